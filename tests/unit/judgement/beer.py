"""An invented beer for tests: a logistic fall, a probe with a little noise, hydrometer readings where asked for."""

from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta

import numpy as np

from fermwatch.judgement.judge import Judge
from fermwatch.judgement.settings import JudgeSettings
from fermwatch.judgement.view import View
from fermwatch.model.batch import Batch, Event, EventKind, GravityMeasurement, GravityOrigin, Instrument, PackageChoice
from fermwatch.model.judgement import Judgement
from fermwatch.model.yeast import Yeast

PITCHED = datetime(2026, 3, 1, 18, tzinfo=UTC)
ALE = Yeast("clean-ale", "clean ale", 17.0, 22.0, 0.72, 0.80, lag_max_h=36.0)
LAGER = Yeast("lager", "lager", 8.0, 14.0, 0.70, 0.80, lag_max_h=60.0, bottom_fermenting=True)
SAISON = Yeast("saison", "saison", 20.0, 30.0, 0.80, 0.93, diastatic=True)
RETURNABLE = PackageChoice("returnable-glass", 2.4, 25.0)

Gravity = Callable[[float], float]


def at(hour: float) -> datetime:
    return PITCHED + timedelta(hours=hour)


def fermenting(end: float = 12.0, start: float = 50.0, middle_h: float = 45.0, width_h: float = 9.0) -> Gravity:
    """Points at an hour."""
    return lambda hour: end + (start - end) / (1.0 + np.exp((hour - middle_h) / width_h))


def a_batch(
    yeast: Yeast = ALE,
    package: PackageChoice | None = RETURNABLE,
    origin: GravityOrigin = GravityOrigin.MEASURED,
    adjuncts: dict[str, float] | None = None,
    original: float = 1.050,
) -> Batch:
    return Batch(
        "b1", "test", "left", original, PITCHED, 20.0, yeast, origin, package=package,
        extract_adjuncts_g_per_l=adjuncts or {},
    )  # fmt: skip


def reading(hour: float, points: float, instrument: Instrument = Instrument.HYDROMETER) -> GravityMeasurement:
    return GravityMeasurement(f"m{hour:g}", at(hour), 1.0 + points / 1000.0, instrument)


def event(hour: float, kind: EventKind, **data: float | str | bool) -> Event:
    return Event(f"{kind}-{hour:g}", at(hour), kind, data)


def brewed(
    gravity: Gravity,
    days: float,
    *,
    batch: Batch | None = None,
    read_at: Iterable[float] = (),
    events: Iterable[Event] = (),
    temperature_c: Callable[[float], float] | None = None,
    probe: bool = True,
    drift: float = 0.0,
    settings: JudgeSettings | None = None,
    seed: int = 1,
) -> Judge:
    """A judge that has heard all of it."""
    random = np.random.default_rng(seed)
    judge = Judge(batch or a_batch(), settings)
    for hour in np.arange(0.05, days * 24.0, 0.5):
        judge.add_temperature(at(hour), 20.0 if temperature_c is None else temperature_c(hour))
        noise = float(random.normal(0.0, 0.5))
        if probe:
            judge.add_gravity(at(hour), 1.0 + (gravity(hour) + drift * hour / 24.0 + noise) / 1000.0)
    for hour in read_at:
        judge.add_measurement(reading(hour, gravity(hour)))
    for happened in events:
        judge.add_event(happened)
    return judge


def said(judge: Judge, hour: float) -> Judgement:
    return judge.judge(at(hour))


def first_safe_h(judge: Judge, days: float) -> float | None:
    """When it was first called safe."""
    for hour in np.arange(3.0, days * 24.0, 3.0):
        verdict = said(judge, float(hour)).verdict
        if verdict is not None and verdict.kind == "safe":
            return float(hour)
    return None


def view_of(judge: Judge, hour: float) -> View:
    """All that is known of it at that hour, as the gates, the phase and the forecast are given it."""
    said(judge, hour)
    assert judge._latest is not None
    return judge._latest.view
