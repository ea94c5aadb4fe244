"""The pressure risk over all batches: a proper distribution, and what is worse never looks better."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.science.bivariate_normal import upper_orthant, upper_tail
from fermwatch.science.carbonation import ResidualCo2
from fermwatch.science.pressure_risk import (
    Bottle,
    FermentableLeft,
    PressureRisk,
    SugarDose,
    carbonation_distribution,
    pressure_risk,
)

mean = st.floats(0.0, 6.0)
sd = st.floats(0.0, 3.0)
grams = st.floats(0.0, 12.0)
storage = st.floats(5.0, 40.0)
limit = st.floats(3.0, 10.0)
RESIDUAL = ResidualCo2(0.78, 0.92)


def risk(points: float, spread: float, g_per_l: float, storage_c: float, limit_bar: float) -> PressureRisk:
    left = FermentableLeft(points, spread)
    return pressure_risk(left, RESIDUAL, SugarDose(g_per_l), Bottle(limit_bar, storage_c))


@given(mean, sd, grams, storage, limit)
def test_quantiles_are_ordered_and_the_chance_is_a_chance(m: float, s: float, g: float, t: float, bar: float) -> None:
    found = risk(m, s, g, t, bar)
    assert found.low_bar <= found.median_bar <= found.high_bar
    assert 0.0 <= found.chance_over_limit <= 1.0


@given(mean, sd, grams, storage, limit)
def test_the_95_percent_end_and_the_chance_tell_the_same(m: float, s: float, g: float, t: float, bar: float) -> None:
    found = risk(m, s, g, t, bar)
    if found.high_bar < bar - 1e-4:
        assert found.chance_over_limit <= 0.05 + 1e-6
    if found.high_bar > bar + 1e-4:
        assert found.chance_over_limit >= 0.05 - 1e-6


@given(mean, sd, grams, storage, limit, st.floats(0.01, 2.0))
def test_more_left_more_sugar_or_a_hotter_store_is_never_safer(
    m: float, s: float, g: float, t: float, bar: float, more: float
) -> None:
    usual = risk(m, s, g, t, bar)
    for worse in (
        risk(m + more, s, g, t, bar),
        risk(m, s, g + more, t, bar),
        risk(m, s, g, min(40.0, t + more), bar),
    ):
        assert worse.high_bar >= usual.high_bar - 1e-6
        assert worse.chance_over_limit >= usual.chance_over_limit - 1e-9


@given(mean, st.floats(0.05, 3.0), grams, st.floats(0.01, 0.99))
def test_a_quantile_leaves_its_share_below(m: float, s: float, g: float, share: float) -> None:
    volumes = carbonation_distribution(FermentableLeft(m, s), 0.9, SugarDose(g))
    assert 1.0 - volumes.chance_above(volumes.quantile(share)) == pytest.approx(share, abs=2e-5)


@given(st.floats(-6.0, 6.0), st.floats(-6.0, 6.0), st.floats(0.0, 1.0))
def test_both_above_is_between_independent_and_the_rarer_alone(h: float, k: float, correlation: float) -> None:
    both = upper_orthant(h, k, correlation)
    assert upper_tail(h) * upper_tail(k) - 1e-12 <= both <= min(upper_tail(h), upper_tail(k)) + 1e-12
    assert both == pytest.approx(upper_orthant(k, h, correlation), abs=1e-12)
