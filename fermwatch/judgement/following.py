"""All that the store knows of a batch, as a judge is told it: for the watcher, and for whoever judges right now."""

from array import array
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from fermwatch.brewing.air import air_bar
from fermwatch.clock import from_ms
from fermwatch.contracts.store import Past
from fermwatch.judgement.earlier import own_ends
from fermwatch.judgement.ends import OwnEnd
from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import Batch, Event, GravityMeasurement
from fermwatch.model.believable import believable
from fermwatch.model.history import ALWAYS, History, SpeakingSpan
from fermwatch.model.packaging import as_packaged, packaging_of
from fermwatch.model.quantity import Quantity
from fermwatch.model.reading import Reading
from fermwatch.science.solubility import ATMOSPHERE_BAR

SOON = timedelta(days=1)  # device clocks may run a little ahead
SLICE = timedelta(days=2)  # of a batch's readings, heard at a time


@dataclass(frozen=True, slots=True)
class Ears:
    """Which series a judge hears, and when: those of its batch's fermenter, each while it served that and
    the beer was in it."""

    temperature: tuple[SpeakingSpan, ...] = ()
    gravity: tuple[SpeakingSpan, ...] = ()
    history: History = field(default_factory=History)

    @classmethod
    def of(cls, past: Past, batch: Batch) -> "Ears":
        series, history = past.series(every=True), History(past.bindings())
        span = (batch.pitched_at, batch.left_fermenter_at or ALWAYS[1])
        temperatures = [one.series for one in series if one.probe.quantity is Quantity.BEER_TEMPERATURE]
        gravities = [one.series for one in series if one.probe.quantity is Quantity.GRAVITY]
        return cls(
            history.speakers(temperatures, batch.vessel, *span),
            history.speaker(gravities, batch.vessel, *span),
            history,
        )


class News:
    """Readings that a judge is still to be told: bare numbers, since at a start they are those of weeks."""

    def __init__(self) -> None:
        self._gravity = array("q"), array("d")
        self._temperature = array("q"), array("d")

    def __len__(self) -> int:
        return len(self._gravity[0]) + len(self._temperature[0])

    def hear(self, ears: Ears, reading: Reading) -> None:
        """Take in a reading, where it is a good one that concerns the batch."""
        if not believable(reading.flags):
            return
        at = from_ms(reading.at_ms)
        if any(span.covers(reading.series, at) for span in ears.gravity):
            instants, values = self._gravity
        elif any(span.covers(reading.series, at) for span in ears.temperature):
            instants, values = self._temperature
        else:
            return
        instants.append(reading.at_ms)
        values.append(ears.history.calibrated(reading.series, at, reading.value))

    def hear_history(self, ears: Ears, past: Past, now: datetime) -> Iterator[None]:
        """Take in all readings of a batch, in slices: after each, whoever waits for the store may go on."""
        for spans, (instants, values) in ((ears.temperature, self._temperature), (ears.gravity, self._gravity)):
            for span in spans:
                for part in ears.history.parts(span.series, span.start, min(span.end, now + SOON)):
                    for start, end in _slices(part.start, part.end):
                        found_at_ms, found = past.believed(span.series, start, end)
                        instants.extend(found_at_ms)
                        values.extend(part.calibration.apply_to_all(found))
                        yield

    def tell(self, judge: Judge) -> None:
        judge.add_gravities(*self._gravity)
        judge.add_temperatures(*self._temperature)


@dataclass(frozen=True, slots=True)
class Notes:
    """All that people measured and did, and what they took back; told twice, a judge knows it once.

    own: where the brewer's earlier batches of this yeast ended. air_bar: how hard the air presses where it ferments.
    """

    measurements: tuple[GravityMeasurement, ...] = ()
    events: tuple[Event, ...] = ()
    own: tuple[OwnEnd, ...] = ()
    air_bar: float = ATMOSPHERE_BAR

    @classmethod
    def of(cls, past: Past, batch: Batch) -> "Notes":
        """UnreadableRow where one cannot be read, since no verdict may pass over what was said."""
        return cls(past.measurements(batch.id), past.events(batch.id), own_ends(past, batch), air_bar(past.vessels()))

    def tell(self, judge: Judge) -> None:
        judge.know_own_ends(self.own)
        judge.know_the_air(self.air_bar)
        for measurement in self.measurements:
            judge.add_measurement(measurement)
        for event in self.events:
            judge.add_event(event)


def judged_until(batch: Batch, now: datetime) -> datetime:
    """The last instant that its fermenter says anything of it: of a packaged beer the verdict of that day stays."""
    return min(now, batch.left_fermenter_at or now)


def as_it_was_meant(past: Past, batch: Batch) -> Batch:
    """The batch, once packaged with the package that it went into."""
    return batch if batch.packaged_at is None else as_packaged(batch, packaging_of(past.events(batch.id, strict=False)))


def follow(past: Past, batch: Batch, now: datetime, make_judge: Callable[[Batch], Judge] = Judge) -> Judge:
    """A judge of the batch, told all that the store holds until `now`, or until the beer left its fermenter."""
    judge, news = make_judge(as_it_was_meant(past, batch)), News()
    Notes.of(past, batch).tell(judge)
    for _ in news.hear_history(Ears.of(past, batch), past, now):
        pass
    news.tell(judge)
    return judge


def _slices(start: datetime, end: datetime) -> Iterator[tuple[datetime, datetime]]:
    while start < end:
        yield start, min(start + SLICE, end)
        start += SLICE
