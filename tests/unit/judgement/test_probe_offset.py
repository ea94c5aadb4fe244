"""A floating probe that reads far from the beer for good is calibrated, and not taken for beer that rises or falls."""

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
import pytest

from fermwatch.judgement.judge import Judge
from fermwatch.judgement.kalman import DRIFT, OFFSET_SD
from fermwatch.model.finding import Phase, VerdictKind
from fermwatch.model.judgement import Judgement
from tests.unit.judgement.beer import a_batch, at, fermenting, reading, said, view_of

Offset = Callable[[float], float]
END = 11.3
READ = ((216.5, 11.4), (264.5, 11.3), (312.5, 11.3))
DAYS = 14


def beside(
    offset: Offset, read: Sequence[tuple[float, float]] = READ, from_h: float = 0.05, days: float = DAYS, seed: int = 1
) -> Judge:
    """An ale of 1.050 whose probe reads so far above it."""
    random, judge, gravity = np.random.default_rng(seed), Judge(a_batch()), fermenting(END)
    for hour in np.arange(0.05, days * 24.0, 0.5).tolist():
        judge.add_temperature(at(hour), 20.0)
        if hour >= from_h:
            judge.add_gravity(at(hour), 1.0 + (gravity(hour) + offset(hour) + random.normal(0.0, 0.5)) / 1000.0)
    for hour, points in read:
        judge.add_measurement(reading(hour, points))
    return judge


def told(judge: Judge, days: float = DAYS) -> list[Judgement]:
    return [said(judge, hour) for hour in np.arange(3.0, days * 24.0, 3.0).tolist()]


def phases(judge: Judge, days: float = DAYS) -> list[Phase]:
    """One after another."""
    found = [one.phase.phase for one in told(judge, days) if one.phase is not None]
    return [found[0], *(after for before, after in pairwise(found) if after is not before)]


FINISHED = {Phase.TERMINAL, Phase.CONDITIONING}
ORDINARY = [Phase.LAG, Phase.ACTIVE, Phase.SLOWING, Phase.TERMINAL, Phase.CONDITIONING]


@pytest.mark.parametrize("off", [10.0, -5.0, 4.0])
def test_a_probe_that_is_off_for_good_changes_no_phase_and_no_verdict(off: float) -> None:
    judge = beside(lambda _: off)
    assert phases(judge) == ORDINARY
    for one in told(judge)[80:]:
        assert one.trend is not None
        assert abs(one.trend.gravity_sg - 1.0113) < 0.001
        assert abs(one.trend.probe_drift_points_per_day or 0.0) < 0.1
    verdict = said(judge, 330.0).verdict
    assert verdict is not None
    assert verdict.kind is VerdictKind.SAFE


@pytest.mark.parametrize("off", [10.0, -10.0])
def test_it_is_calibrated_at_the_pitch_before_anybody_reads_by_hand(off: float) -> None:
    judge, good = (beside(lambda _, by=by: by, read=(), days=4) for by in (off, 0.0))  # type: ignore[misc]
    for hour in (12.0, 24.0, 36.0, 90.0):
        assert view_of(judge, hour).gravity == pytest.approx(view_of(good, hour).gravity, abs=0.8), hour
    trend = said(judge, 90.0).trend
    assert trend is not None
    way = "higher" if off > 0.0 else "lower"
    assert f"{way} than the original gravity" in trend.remark


def test_its_fall_is_a_start_though_it_stands_above_the_original_gravity() -> None:
    """At 42 h it has fallen by far more than a start takes."""
    slow = np.random.default_rng(4)
    judge = Judge(a_batch())
    gravity = fermenting(END, middle_h=60.0, width_h=11.0)
    for hour in np.arange(0.05, 60.0, 0.5).tolist():
        judge.add_gravity(at(hour), 1.0 + (gravity(hour) + 10.0 + slow.normal(0.0, 0.5)) / 1000.0)
    found = phases(judge, 2.4)
    assert Phase.NOT_STARTED not in found
    assert found[-1] is Phase.ACTIVE


@pytest.mark.parametrize("off", [10.0, -10.0])
def test_one_that_nobody_heard_at_the_pitch_is_calibrated_by_the_hydrometer(off: float) -> None:
    judge = beside(lambda _: off, from_h=72.0)
    view = view_of(judge, 225.0)
    assert view.probe.sd == pytest.approx(10.0, abs=1.5)
    assert view.gravity == pytest.approx(END, abs=1.2)


def test_what_it_said_on_the_way_into_the_beer_is_no_reading_of_it() -> None:
    judge = beside(lambda hour: -49.0 if hour < 3.0 else 10.0)
    view = view_of(judge, 24.0)
    assert (view.probe.sd > OFFSET_SD, view.probe.since_h) == (True, 3.0)
    assert phases(judge) == ORDINARY


def test_a_probe_that_was_knocked_is_told_by_readings_that_agree() -> None:
    for off in (6.0, -6.0):
        judge = beside(lambda hour, off=off: off if hour > 240.0 else 0.0)  # type: ignore[misc]
        view = view_of(judge, 282.0)
        assert view.gravity == pytest.approx(END, abs=0.8), off
        assert abs(float(view.estimate.mean[DRIFT])) < 0.3, off
        assert phases(judge)[-1] in FINISHED, off


def wandering(seed: int) -> Offset:
    steps = np.cumsum(np.random.default_rng(seed).normal(0.0, 0.12, DAYS * 100))
    return lambda hour: float(steps[int(hour * 4.0)])


@pytest.mark.parametrize("seed", range(3))
def test_a_forecast_holds_readings_that_agree_and_a_phase_does_not_flutter(seed: int) -> None:
    judge = beside(wandering(seed), seed=seed)
    for hour in np.arange(267.0, 330.0, 6.0).tolist():
        forecast = said(judge, hour).forecast
        assert forecast is not None
        assert forecast.low_sg <= 1.0113 + 1e-9, hour
        assert forecast.high_sg >= 1.0113 - 1e-9, hour
    finished = [one.phase is not None and one.phase.phase in FINISHED for one in told(judge)]
    changes = [place for place, (before, after) in enumerate(pairwise(finished)) if before is not after]
    assert all(after - before >= 4 for before, after in pairwise(changes) if finished[after])  # of three hours each
