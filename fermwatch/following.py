"""A judge that has heard everything the store knows of a batch: for the watcher, and for whoever judges right now."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta

from fermwatch.clock import from_ms
from fermwatch.contracts.store import Reader, Series
from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import Batch
from fermwatch.model.probe import Binding, Calibration
from fermwatch.model.quantity import Quantity
from fermwatch.model.reading import Flag, Reading

JUDGED = (Quantity.BEER_TEMPERATURE, Quantity.GRAVITY)
SOON = timedelta(days=1)  # device clocks may run a little ahead
SLICE = timedelta(days=2)  # of a batch's readings, heard at a time


class Calibrations:
    """Which calibration a series had at an instant."""

    def __init__(self, bindings: Iterable[Binding]) -> None:
        self._of: dict[int, list[Binding]] = {}
        for binding in bindings:
            self._of.setdefault(binding.series, []).append(binding)

    def calibrated(self, reading: Reading) -> float:
        """The value as it is in truth. Before its first binding, a series is as the first one says."""
        bindings = self._of.get(reading.series, [])
        at = from_ms(reading.at_ms)
        held = [one for one in bindings if one.valid_from <= at] or bindings[:1]
        return (held[-1].calibration if held else Calibration()).apply(reading.value)


def is_good(reading: Reading) -> bool:
    """Fit to be judged by; a device whose clock is unsure still measures right."""
    return not reading.flags & ~Flag.CLOCK_UNSURE


def judged_series(series: Mapping[int, Series] | Sequence[Series], vessel: str, quantity: Quantity) -> int | None:
    """The series that a judge hears of a quantity: the first configured. Two floats have two offsets."""
    if quantity not in JUDGED:
        return None
    listed = series.values() if isinstance(series, Mapping) else series
    return next((one.series for one in listed if one.probe.vessel == vessel and one.probe.quantity is quantity), None)


def tell(judge: Judge, quantity: Quantity, reading: Reading, calibrations: Calibrations) -> None:
    """Let a judge hear one good reading."""
    at, value = from_ms(reading.at_ms), calibrations.calibrated(reading)
    if quantity is Quantity.GRAVITY:
        judge.add_gravity(at, value)
    else:
        judge.add_temperature(at, value)


def follow(reader: Reader, batch: Batch, now: datetime, make_judge: Callable[[Batch], Judge] = Judge) -> Judge:
    """A judge of the batch, told all that the store holds until `now`."""
    judge = make_judge(batch)
    tell_what_was_said(judge, reader, batch)
    for _ in hear_history(judge, reader, batch, now):
        pass
    return judge


def tell_what_was_said(judge: Judge, reader: Reader, batch: Batch) -> None:
    """Tell a judge all that people measured and did, and what they took back; told twice, it knows it once."""
    for measurement in reader.measurements(batch.id):
        judge.add_measurement(measurement)
    for event in reader.events(batch.id):
        judge.add_event(event)


def hear_history(judge: Judge, reader: Reader, batch: Batch, now: datetime) -> Iterator[None]:
    """Let a judge hear all readings of its batch, in slices: after each, whoever waits for the store may go on."""
    series, calibrations = reader.series(), Calibrations(reader.bindings())
    for quantity in JUDGED:
        number = judged_series(series, batch.vessel, quantity)
        if number is None:
            continue
        for start, end in _slices(batch.pitched_at, now + SOON):
            for reading in reader.readings(number, start, end):
                if is_good(reading):
                    tell(judge, quantity, reading, calibrations)
            yield


def _slices(start: datetime, end: datetime) -> Iterator[tuple[datetime, datetime]]:
    while start < end:
        yield start, min(start + SLICE, end)
        start += SLICE
