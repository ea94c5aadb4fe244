"""What must hold whatever the beer does."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fermwatch.brewing.attenuation import corrected_range
from fermwatch.judgement.judge import Judge
from fermwatch.judgement.stillness import Decline
from fermwatch.model.amounts import Amount, AmountKind, said
from fermwatch.model.batch import GravityMeasurement
from fermwatch.model.finding import VerdictKind
from fermwatch.model.judgement import Judgement
from tests.unit.judgement.beer import PITCHED, a_batch, at, fermenting

RANK = {VerdictKind.HOLD: 0, VerdictKind.NOT_YET: 1, VerdictKind.CONFIRM: 2, VerdictKind.SAFE: 3}


def watched(end: float, noise: float, seed: int, *, shift_days: float = 0.0, double: bool = False) -> Judge:
    random = np.random.default_rng(seed)
    shift = timedelta(days=shift_days)
    judge = Judge(replace(a_batch(), pitched_at=PITCHED + shift))
    gravity = fermenting(end=end)
    for hour in np.arange(0.5, 240.0, 1.0):
        value = 1.0 + (gravity(hour) + float(random.normal(0.0, noise))) / 1000.0
        for _ in range(2 if double else 1):
            judge.add_gravity(at(hour) + shift, value)
            judge.add_temperature(at(hour) + shift, 20.0)
    for hour in (0.3, 160.0, 215.0):
        judge.add_measurement(GravityMeasurement(f"m{hour}", at(hour) + shift, 1.0 + gravity(hour) / 1000.0))
    return judge


def _but_instants(amount: Amount) -> str:
    return "then" if amount.kind is AmountKind.INSTANT else amount.canonical()


def shape(judged: Judgement, shift_days: float = 0.0) -> tuple[object, ...]:
    """What was said, without the calendar."""
    shift = timedelta(days=shift_days)
    assert judged.trend is not None
    assert judged.phase is not None
    assert judged.verdict is not None
    assert judged.forecast is not None
    return (
        judged.trend.gravity_sg,
        judged.trend.rate_points_per_day,
        judged.phase.phase,
        judged.phase.since - shift,
        judged.verdict.kind,
        tuple(said(reason, _but_instants) for reason in judged.verdict.reasons),
        judged.verdict.since - shift,
        judged.forecast.terminal_sg,
    )


@settings(max_examples=5, deadline=None)
@given(st.floats(10.0, 14.0), st.floats(0.3, 2.0), st.integers(0, 99))
def test_rows_delivered_twice_change_nothing(end: float, noise: float, seed: int) -> None:
    once, twice = watched(end, noise, seed), watched(end, noise, seed, double=True)
    assert once.judge(at(240.0)) == twice.judge(at(240.0))


@settings(max_examples=5, deadline=None)
@given(st.floats(10.0, 14.0), st.integers(0, 99), st.integers(-4000, 4000))
def test_the_calendar_changes_nothing(end: float, seed: int, shift_days: int) -> None:
    here, there = watched(end, 0.8, seed), watched(end, 0.8, seed, shift_days=shift_days)
    moved = there.judge(at(240.0) + timedelta(days=shift_days))
    assert shape(here.judge(at(240.0))) == shape(moved, shift_days)


@settings(max_examples=10, deadline=None)
@given(st.floats(10.5, 13.5), st.floats(0.3, 2.0), st.integers(0, 99), st.floats(170.0, 236.0))
def test_a_reading_as_predicted_never_lowers_the_verdict(end: float, noise: float, seed: int, hour: float) -> None:
    """With the attenuation in its range, one more hydrometer reading at the predicted mean can only help."""
    plain, helped = watched(end, noise, seed), watched(end, noise, seed)
    until = np.floor(hour / 3.0) * 3.0
    before = plain.judge(at(until)).trend
    assert before is not None
    days = (hour - until) / 24.0
    expected = before.gravity_sg + before.rate_points_per_day * days / 1000.0
    helped.add_measurement(GravityMeasurement("extra", at(hour), expected))
    first, second = plain.judge(at(until + 3.0)).verdict, helped.judge(at(until + 3.0)).verdict
    assert first is not None
    assert second is not None
    assert RANK[second.kind] >= RANK[first.kind]


@given(st.floats(-3.0, 3.0), st.floats(0.01, 3.0), st.floats(0.01, 2.0), st.floats(0.01, 2.0))
def test_a_larger_decline_is_never_likelier(rate: float, sd: float, one: float, other: float) -> None:
    decline = Decline(rate, sd)
    assert decline.chance_of(max(one, other)) <= decline.chance_of(min(one, other)) + 1e-12


@given(st.floats(0.0, 25.0), st.sampled_from(["lactose", "maltodextrin", "sucrose", "honey"]))
def test_a_corrected_range_moves_the_way_of_what_was_added(points: float, name: str) -> None:
    low, high = corrected_range(0.72, 0.80, 50.0, [(name, points)], original_holds={name: points / 0.386})
    if name in {"lactose", "maltodextrin"}:
        assert low <= 0.72 + 1e-12
        assert high <= 0.80 + 1e-12
    else:
        assert low >= 0.72 - 1e-12
        assert high >= 0.80 - 1e-12


def test_the_range_of_plain_malt_is_the_yeasts_own() -> None:
    assert corrected_range(0.72, 0.80, 50.0, [], original_holds={}) == pytest.approx((0.72, 0.80))
