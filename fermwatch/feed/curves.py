"""What served a fermenter, over any window of time: each reading calibrated as its probe was when it was taken."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from fermwatch.clock import EPOCH
from fermwatch.contracts.feed import Curves
from fermwatch.contracts.store import Bucket, Reader, StoredProbe
from fermwatch.model.degree import Output
from fermwatch.model.history import History, ServedSpan
from fermwatch.model.probe import Calibration
from fermwatch.model.quantity import Quantity
from fermwatch.model.window import QUARTER, Window


class CurveReader:
    """Of one site, as its probes were placed and calibrated by then."""

    def __init__(self, reader: Reader, placed: History) -> None:
        self._reader, self._placed = reader, placed
        self._series = reader.series(every=True)

    def read(self, vessel: str, window: Window, *, since: datetime | None = None) -> Curves:
        """The beer alone. Nothing of before `since`, to the quarter of an hour: what was there before the pitch was
        another beer."""
        began = _quarter(since)
        return Curves(
            window,
            beer=self._curve(vessel, self._of(Quantity.BEER_TEMPERATURE), window, began),
            gravity=self._curve(vessel, self._of(Quantity.GRAVITY), window, began),
        )

    def read_all(self, vessel: str, window: Window, *, since: datetime | None = None) -> Curves:
        """The beer, and what was done about it by a controller."""
        began, outputs = _quarter(since), self._of(Quantity.OUTPUT)
        heats = [one for one in outputs if one.probe.channel == Output.HEAT]
        return replace(
            self.read(vessel, window, since=since),
            set_point=self._curve(vessel, self._of(Quantity.SET_POINT), window, began),
            cool=self._curve(vessel, [one for one in outputs if one not in heats], window, began),
            heat=self._curve(vessel, heats, window, began),
        )

    def _of(self, quantity: Quantity) -> list[StoredProbe]:
        return [series for series in self._series if series.probe.quantity is quantity]

    def _curve(self, vessel: str, series: Iterable[StoredProbe], window: Window, began: datetime) -> tuple[Bucket, ...]:
        """Of what served this vessel then; the probe that serves it now goes before another."""
        curve: dict[datetime, Bucket] = {}
        for each in sorted(series, key=lambda one: one.probe.vessel != vessel):
            found = self._of_probe(each.series, vessel, window, began)
            curve = {**found, **curve}
        return tuple(curve[at] for at in sorted(curve))

    def _of_probe(self, series: int, vessel: str, window: Window, began: datetime) -> dict[datetime, Bucket]:
        found: dict[datetime, Bucket] = {}
        for part in self._placed.parts(series, max(window.start, began), window.end):
            if part.vessel == vessel:
                for bucket in self._buckets(series, part, window):
                    found[bucket.at] = found[bucket.at].joined(bucket) if bucket.at in found else bucket
        return found

    def _buckets(self, series: int, part: ServedSpan, window: Window) -> Iterable[Bucket]:
        within = part.start, part.end
        raw = self._reader.buckets(series, window.start, window.end, window.columns, within=within)
        return (calibrated(bucket, part.calibration) for bucket in raw)


def _quarter(since: datetime | None) -> datetime:
    return EPOCH if since is None else since - (since - EPOCH) % QUARTER


def calibrated(bucket: Bucket, calibration: Calibration) -> Bucket:
    """What the bucket is in truth; a negative factor turns low and high around."""
    ends = calibration.apply(bucket.low), calibration.apply(bucket.high)
    return Bucket(bucket.at, bucket.count, min(ends), max(ends), calibration.apply(bucket.mean))
