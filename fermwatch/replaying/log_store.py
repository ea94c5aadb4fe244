"""A recorded log as those who decide know a store: what it holds grows row by row, and nothing below a row is known."""

from array import array
from bisect import bisect_left, insort
from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from statistics import median

from fermwatch.clock import to_ms
from fermwatch.contracts.store import Latest, StoredProbe
from fermwatch.model.batch import Batch, Event, GravityMeasurement
from fermwatch.model.believable import believable, screen
from fermwatch.model.judgement import Judgement
from fermwatch.model.probe import Binding, Calibration, Probe, Vessel
from fermwatch.model.quantity import CANONICAL_UNIT, Quantity
from fermwatch.model.reading import Reading
from fermwatch.replaying.input import GRAVITY, Row

NOT_BEER = ("air", "ambient", "room", "fridge", "chamber")
SILENT_INTERVALS = 6
SILENT_LEAST_S = 3600.0


class LogStore:
    """One batch, its events, and what was heard of it until now."""

    def __init__(self, batch: Batch, events: Iterable[Event]) -> None:
        self._batch, self._events = batch, tuple(events)
        self._measurements: dict[str, GravityMeasurement] = {}
        self._series: dict[str, StoredProbe] = {}
        self._readings: dict[int, list[Reading]] = {}
        self._known: set[tuple[int, int, float]] = set()
        self._last_at: dict[int, datetime] = {}
        self._intervals: dict[int, deque[float]] = {}

    def take_measurement(self, row: Row) -> None:
        identity = f"{row.at.isoformat()} {row.value}"
        self._measurements[identity] = GravityMeasurement(identity, row.at, row.value)

    def take(self, row: Row) -> Reading | None:
        """The reading that a row holds; None where it was delivered before."""
        series = self._series.get(row.probe) or self._first_of(row)
        self._series[row.probe] = self._as_often_as_it_speaks(series, row.at)
        reading = Reading(series.series, to_ms(row.at), row.value)
        key = (reading.series, reading.at_ms, reading.value)
        if key in self._known:
            return None
        self._known.add(key)
        probe = series.probe
        return replace(reading, flags=screen(probe.quantity, row.value, said=row.value, unit=probe.unit))

    def append(self, readings: Iterable[Reading]) -> None:
        """Readings with their flags: what was heard."""
        for reading in readings:
            insort(self._readings.setdefault(reading.series, []), reading, key=lambda one: one.at_ms)

    def _first_of(self, row: Row) -> StoredProbe:
        quantity = quantity_of(row)
        probe = Probe(row.probe, self._batch.vessel, quantity, "", row.probe, CANONICAL_UNIT[quantity])
        number = len(self._series) + 1
        self._intervals[number] = deque(maxlen=25)
        return StoredProbe(number, probe)

    def _as_often_as_it_speaks(self, series: StoredProbe, at: datetime) -> StoredProbe:
        """No configuration says how often a probe speaks: it is silent after a few of its usual intervals."""
        last_at, intervals = self._last_at.get(series.series), self._intervals[series.series]
        if last_at is not None and at > last_at:
            intervals.append((at - last_at).total_seconds())
        self._last_at[series.series] = at if last_at is None else max(last_at, at)
        usual_s = median(intervals) if intervals else 0.0
        silent_after_s = max(SILENT_LEAST_S, SILENT_INTERVALS * usual_s)
        return StoredProbe(series.series, replace(series.probe, silent_after_s=silent_after_s))

    def vessels(self) -> tuple[Vessel, ...]:
        return (Vessel(self._batch.vessel, self._batch.vessel, self._batch.volume_l),)

    def series(self, *, every: bool = False) -> tuple[StoredProbe, ...]:
        del every  # all that ever spoke are there still
        return tuple(self._series.values())

    def bindings(self) -> tuple[Binding, ...]:
        where, since = self._batch.vessel, self._batch.pitched_at
        return tuple(Binding(one.series, where, Calibration(), since) for one in self._series.values())

    def latest(self) -> Mapping[int, Latest]:
        return {}

    def readings(self, series: int, start: datetime, end: datetime) -> Sequence[Reading]:
        heard = self._readings.get(series, [])
        first, after = (bisect_left(heard, to_ms(at), key=lambda one: one.at_ms) for at in (start, end))
        return heard[first:after]

    def believed(self, series: int, start: datetime, end: datetime) -> "tuple[array[int], array[float]]":
        rows = [one for one in self.readings(series, start, end) if believable(one.flags)]
        return array("q", [one.at_ms for one in rows]), array("d", [one.value for one in rows])

    def open_batches(self) -> tuple[str, ...]:
        return (self._batch.id,)

    def batch(self, batch_id: str) -> Batch | None:
        return self._batch if batch_id == self._batch.id else None

    def batches(self, *, ended: bool = False) -> tuple[Batch, ...]:
        del ended  # a log is of one batch
        return (self._batch,)

    def measurements(self, batch_id: str, *, strict: bool = True) -> tuple[GravityMeasurement, ...]:
        del batch_id, strict
        return tuple(self._measurements.values())

    def events(self, batch_id: str, *, strict: bool = True) -> tuple[Event, ...]:
        del batch_id, strict
        return self._events

    def judgement(self, batch_id: str) -> Judgement | None:
        del batch_id
        return None  # nothing was said of it before


def quantity_of(row: Row) -> Quantity:
    if row.quantity == GRAVITY:
        return Quantity.GRAVITY
    beer = not any(word in row.probe.lower() for word in NOT_BEER)
    return Quantity.BEER_TEMPERATURE if beer else Quantity.AIR_TEMPERATURE
