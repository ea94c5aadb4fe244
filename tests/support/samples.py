"""Invented values that the tests of the store share."""

import itertools
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from fermwatch.clock import to_ms
from fermwatch.contracts.inbox import Request, RequestKind
from fermwatch.model.batch import Batch, Event, EventKind, GravityMeasurement
from fermwatch.model.probe import Calibration, Probe, Vessel
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.model.reading import Reading
from fermwatch.model.yeast import Yeast
from fermwatch.plain_data import to_plain

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
NOW_MS = to_ms(NOW)
MINUTE_MS = 60_000

VESSELS = (Vessel("left", "Left bucket", 25.0), Vessel("right", "Right bucket", 25.0))
ALE = Yeast("ale", "Plain ale yeast", 17.0, 21.0, 0.72, 0.78)

_ids = itertools.count(1)


def beer_probe(slug: str = "left-beer", vessel: str = "left", calibration: Calibration | None = None) -> Probe:
    calibration = calibration or Calibration()
    return Probe(slug, vessel, Quantity.BEER_TEMPERATURE, "board", slug, Unit.CELSIUS, calibration=calibration)


def gravity_probe(slug: str = "left-gravity", vessel: str = "left") -> Probe:
    return Probe(slug, vessel, Quantity.GRAVITY, "float", slug, Unit.SG, silent_after_s=3600.0)


PROBES = (beer_probe(), gravity_probe(), beer_probe("right-beer", "right"))


def reading(minute: float, value: float = 20.0, *, series: int = 1, **more: Any) -> Reading:  # noqa: ANN401
    """A reading so many minutes after NOW."""
    return Reading(series, NOW_MS + round(minute * MINUTE_MS), value, **more)


def batch(identity: str = "BATCH1", vessel: str = "left") -> Batch:
    return Batch(identity, f"Brew {identity}", vessel, 1.050, NOW - timedelta(hours=2), 20.0, ALE)


def measurement(identity: str = "M1") -> GravityMeasurement:
    return GravityMeasurement(identity, NOW - timedelta(hours=1), 1.048, sample_temperature_c=19.5)


def event(identity: str = "E1") -> Event:
    return Event(identity, NOW - timedelta(hours=1), EventKind.DRY_HOP, {"grams": 50.0, "name": "green ones"})


def request(kind: RequestKind, payload: Mapping[str, Any], *, identity: str = "", **more: Any) -> Request:  # noqa: ANN401
    identity = identity or f"REQUEST{next(_ids)}"
    more = {"site": "home", "user": "eva", "created_at": NOW, **more}
    return Request(id=identity, kind=kind, payload=payload, **more)


def opening(wanted: Batch) -> Request:
    return request(RequestKind.OPEN_BATCH, to_plain(wanted))
