"""A judge that has heard everything the store knows of a batch: for the watcher, and for whoever judges right now."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from fermwatch.clock import from_ms
from fermwatch.contracts.store import Reader
from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import Batch
from fermwatch.model.believable import believable
from fermwatch.model.history import ALWAYS, Heard, History
from fermwatch.model.packaging import as_packaged, packaging_of
from fermwatch.model.quantity import Quantity
from fermwatch.model.reading import Reading

SOON = timedelta(days=1)  # device clocks may run a little ahead
SLICE = timedelta(days=2)  # of a batch's readings, heard at a time


@dataclass(frozen=True, slots=True)
class Ears:
    """Which series a judge hears, and when: those of its batch's fermenter, each while it served that and
    the beer was in it."""

    temperature: tuple[Heard, ...] = ()
    gravity: tuple[Heard, ...] = ()
    history: History = field(default_factory=History)

    @classmethod
    def of(cls, reader: Reader, batch: Batch) -> "Ears":
        series, history = reader.series(every=True), History(reader.bindings())
        span = (batch.pitched_at, batch.left_fermenter_at or ALWAYS[1])
        temperatures = [one.series for one in series if one.probe.quantity is Quantity.BEER_TEMPERATURE]
        gravities = [one.series for one in series if one.probe.quantity is Quantity.GRAVITY]
        return cls(
            history.speakers(temperatures, batch.vessel, *span),
            history.speaker(gravities, batch.vessel, *span),
            history,
        )

    def tell(self, judge: Judge, reading: Reading) -> None:
        """Let the judge hear a reading, where it is a good one that concerns its batch."""
        if not believable(reading.flags):
            return
        at = from_ms(reading.at_ms)
        if any(span.covers(reading.series, at) for span in self.gravity):
            judge.add_gravity(at, self.history.calibrated(reading.series, at, reading.value))
        elif any(span.covers(reading.series, at) for span in self.temperature):
            judge.add_temperature(at, self.history.calibrated(reading.series, at, reading.value))


def judged_until(batch: Batch, now: datetime) -> datetime:
    """The last instant that its fermenter says anything of it: of a packaged beer the verdict of that day stays."""
    return min(now, batch.left_fermenter_at or now)


def as_it_was_meant(reader: Reader, batch: Batch) -> Batch:
    """The batch, once packaged with the package that it went into."""
    return (
        batch if batch.packaged_at is None else as_packaged(batch, packaging_of(reader.events(batch.id, strict=False)))
    )


def follow(reader: Reader, batch: Batch, now: datetime, make_judge: Callable[[Batch], Judge] = Judge) -> Judge:
    """A judge of the batch, told all that the store holds until `now`, or until the beer left its fermenter."""
    judge = make_judge(as_it_was_meant(reader, batch))
    tell_what_was_said(judge, reader, batch)
    for _ in hear_history(judge, Ears.of(reader, batch), reader, now):
        pass
    return judge


def tell_what_was_said(judge: Judge, reader: Reader, batch: Batch) -> None:
    """Tell a judge all that people measured and did, and what they took back; told twice, it knows it once."""
    for measurement in reader.measurements(batch.id):
        judge.add_measurement(measurement)
    for event in reader.events(batch.id):
        judge.add_event(event)


def hear_history(judge: Judge, ears: Ears, reader: Reader, now: datetime) -> Iterator[None]:
    """Let a judge hear all readings of its batch, in slices: after each, whoever waits for the store may go on."""
    for span in (*ears.temperature, *ears.gravity):
        for start, end in _slices(span.start, min(span.end, now + SOON)):
            for reading in reader.readings(span.series, start, end):
                ears.tell(judge, reading)
            yield


def _slices(start: datetime, end: datetime) -> Iterator[tuple[datetime, datetime]]:
    while start < end:
        yield start, min(start + SLICE, end)
        start += SLICE
