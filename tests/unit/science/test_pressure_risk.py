"""The pressure risk against plain Monte Carlo, figures of the trade, and its limits."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from fermwatch.errors import OutOfDomain
from fermwatch.science import solubility
from fermwatch.science.bivariate_normal import owens_t, upper_orthant, upper_tail
from fermwatch.science.carbonation import ResidualCo2
from fermwatch.science.pressure_risk import (
    HOT_STORAGE_C,
    Bottle,
    FermentableLeft,
    SugarDose,
    carbonation_distribution,
    pressure_risk,
)
from fermwatch.science.solubility import VOLUMES_PER_POINT

RESIDUAL = ResidualCo2(0.78, 0.92)
DRAWS = 200_000

BATCHES = {
    "one point left": (FermentableLeft(1.0, 1.0), SugarDose(6.0)),
    "nothing expected, little known": (FermentableLeft(-0.5, 0.6), SugarDose(5.0)),
    "exactly nothing in the middle": (FermentableLeft(0.0, 1.5), SugarDose(6.0)),
    "well known": (FermentableLeft(2.0, 0.01), SugarDose(6.0)),
    "known exactly": (FermentableLeft(1.0, 0.0), SugarDose(7.0)),
    "no sugar": (FermentableLeft(4.0, 2.0), SugarDose(0.0)),
    "honey, badly stirred": (FermentableLeft(0.5, 0.5), SugarDose(9.0, "honey", bottle_spread=0.2)),
}


def drawn_volumes(left: FermentableLeft, dose: SugarDose, residual: float) -> NDArray[np.float64]:
    """Volumes of CO2 of many bottles, drawn one by one."""
    rng = np.random.default_rng(20)
    points = rng.normal(left.mean_points, left.sd_points, 6 * DRAWS)
    points = points[points >= 0.0][:DRAWS]
    assert len(points) == DRAWS
    doses = dose.volumes * (1.0 + dose.relative_sd * rng.normal(size=DRAWS))
    return residual + VOLUMES_PER_POINT * points + doses


def standard_error(share: float) -> float:
    return math.sqrt(share * (1.0 - share) / DRAWS)


@pytest.mark.parametrize("name", BATCHES)
def test_the_chance_is_that_of_a_monte_carlo_within_its_error(name: str) -> None:
    left, dose = BATCHES[name]
    found = pressure_risk(left, RESIDUAL, dose, Bottle(4.8))
    over = float((drawn_volumes(left, dose, RESIDUAL.high) > found.volumes_at_limit).mean())
    assert over == pytest.approx(found.chance_over_limit, abs=4.0 * standard_error(found.chance_over_limit) + 1e-9)


@pytest.mark.parametrize("name", BATCHES)
@pytest.mark.parametrize("share", [0.05, 0.50, 0.95])
def test_the_quantiles_are_those_of_a_monte_carlo_within_its_error(name: str, share: float) -> None:
    left, dose = BATCHES[name]
    quantile = carbonation_distribution(left, RESIDUAL.middle, dose).quantile(share)
    below = float((drawn_volumes(left, dose, RESIDUAL.middle) <= quantile).mean())
    assert below == pytest.approx(share, abs=4.0 * standard_error(share))


@pytest.mark.parametrize("name", BATCHES)
def test_the_points_expected_are_the_mean_after_the_cut(name: str) -> None:
    left, _ = BATCHES[name]
    drawn = (drawn_volumes(left, SugarDose(0.0), 0.0)) / VOLUMES_PER_POINT
    error = 4.0 * float(drawn.std()) / math.sqrt(DRAWS)
    assert left.expected_points == pytest.approx(float(drawn.mean()), abs=error + 1e-9)
    assert left.expected_points >= max(0.0, left.mean_points)


def test_each_quantile_of_pressure_stands_on_its_own_end_of_the_residual() -> None:
    left, dose, bottle = FermentableLeft(1.0, 1.0), SugarDose(6.0), Bottle(4.8)
    found = pressure_risk(left, RESIDUAL, dose, bottle)
    for pressure, residual, share in (
        (found.low_bar, 0.78, 0.05),
        (found.median_bar, 0.85, 0.50),
        (found.high_bar, 0.92, 0.95),
    ):
        volumes = carbonation_distribution(left, residual, dose).quantile(share)
        assert pressure == pytest.approx(bottle.pressure_bar_gauge(volumes), abs=1e-6)


def test_a_bottle_at_its_limit_holds_the_volumes_at_its_limit() -> None:
    bottle = Bottle(4.8)
    assert bottle.pressure_bar_gauge(bottle.volumes_at_limit()) == pytest.approx(4.8, abs=1e-9)


@pytest.mark.parametrize(
    ("limit_bar", "volumes"), [(4.8, 2.9), (5.6, 3.4), (7.5, 4.5), (10.0, 5.9)], ids=["4.8", "5.6", "7.5", "10"]
)
def test_the_limits_of_the_kinds_of_glass_are_their_customary_volumes_at_30_degrees(
    limit_bar: float, volumes: float
) -> None:
    """Common practice; ours is 2 to 3 % lower for the heavy ones."""
    assert Bottle(limit_bar).volumes_at_limit() == pytest.approx(volumes, rel=0.035)


def test_the_air_shut_in_adds_0_65_bar_at_30_degrees_and_4_percent_head_space() -> None:
    bottle = Bottle(4.8, temperature_c=30.0, headspace_share=0.04)
    without = solubility.co2_pressure_bar(2.5, 30.0, beer_per_water=0.90) + solubility.water_vapour_bar(30.0) - 1.01325
    assert bottle.pressure_bar_gauge(2.5) - without == pytest.approx(0.65, abs=0.02)


def test_the_safe_side_takes_six_percent_more_pressure_than_beer_usually_shows() -> None:
    usual = solubility.co2_pressure_bar(2.5, 30.0)
    assert solubility.co2_pressure_bar(2.5, 30.0, beer_per_water=0.90) / usual == pytest.approx(1.06, abs=0.01)


def test_four_points_left_under_ordinary_priming_are_past_a_one_way_bottle() -> None:
    found = pressure_risk(FermentableLeft(4.0, 1.0), RESIDUAL, SugarDose(5.5), Bottle(4.8))
    assert not found.acceptable
    assert found.chance_over_limit > 0.99


def test_a_finished_beer_with_modest_priming_is_acceptable_at_30_degrees_and_not_in_a_hot_garage() -> None:
    left, dose = FermentableLeft(0.0, 0.3), SugarDose(5.0)
    assert pressure_risk(left, RESIDUAL, dose, Bottle(4.8)).acceptable
    assert not pressure_risk(left, RESIDUAL, dose, Bottle(4.8, temperature_c=HOT_STORAGE_C)).acceptable


def test_the_makers_figure_decides() -> None:
    left, dose = FermentableLeft(0.5, 0.5), SugarDose(7.0)
    assert not pressure_risk(left, RESIDUAL, dose, Bottle(4.8)).acceptable
    assert pressure_risk(left, RESIDUAL, dose, Bottle(8.0)).acceptable


def test_what_lies_beyond_the_solubility_says_so() -> None:
    assert not pressure_risk(FermentableLeft(0.0, 0.5), RESIDUAL, SugarDose(5.0), Bottle(4.8)).extrapolated
    assert pressure_risk(FermentableLeft(12.0, 1.0), RESIDUAL, SugarDose(5.0), Bottle(4.8)).extrapolated


def test_an_unfermented_batch_is_lost_with_certainty_and_not_an_error() -> None:
    found = pressure_risk(FermentableLeft(60.0, 10.0), RESIDUAL, SugarDose(5.0), Bottle(10.0, 40.0))
    assert found.chance_over_limit == pytest.approx(1.0)
    assert found.low_bar > 10.0
    assert found.extrapolated


def test_the_sugars_own_spread_joins_the_dosing_errors() -> None:
    assert SugarDose(6.0).relative_sd == pytest.approx(math.hypot(0.01, 0.03, 0.10))
    assert SugarDose(6.0, "honey").relative_sd == pytest.approx(math.hypot(0.01, 0.03, 0.10, 0.10))


@pytest.mark.parametrize(
    "refused",
    [
        lambda: FermentableLeft(-3.0, 0.5),
        lambda: FermentableLeft(1.0, -0.1),
        lambda: FermentableLeft(math.nan, 0.5),
        lambda: Bottle(30.0),
        lambda: ResidualCo2(0.9, 0.8),
        lambda: pressure_risk(FermentableLeft(1, 1), RESIDUAL, SugarDose(6.0), Bottle(4.8, temperature_c=65.0)),
        lambda: pressure_risk(FermentableLeft(1, 1), RESIDUAL, SugarDose(6.0), Bottle(4.8, headspace_share=0.0)),
        lambda: pressure_risk(FermentableLeft(1, 1), RESIDUAL, SugarDose(-6.0), Bottle(4.8)),
        lambda: pressure_risk(FermentableLeft(1, 1), RESIDUAL, SugarDose(6.0), Bottle(4.8), volumes_per_point=5.0),
    ],
)
def test_what_no_bottle_can_be_is_refused(refused: object) -> None:
    assert callable(refused)
    with pytest.raises(OutOfDomain):
        refused()


def test_owens_t_has_its_published_values() -> None:
    """Patefield & Tandy, J. Statistical Software 5(5), 2000, table of test values (from memory)."""
    assert owens_t(0.0625, 0.25) == pytest.approx(3.8911930234701366e-2, abs=1e-15)
    assert owens_t(6.5, 0.4375) == pytest.approx(2.0005773048508315e-11, abs=1e-20)
    assert owens_t(0.0, 1.0) == pytest.approx(0.125)
    assert owens_t(1.3, 1.0) == pytest.approx(0.5 * upper_tail(1.3) * (1.0 - upper_tail(1.3)), abs=1e-12)


def test_both_above_has_its_closed_forms() -> None:
    assert upper_orthant(0.0, 0.0, 0.5) == pytest.approx(1.0 / 3.0)
    assert upper_orthant(0.7, -1.1, 0.0) == pytest.approx(upper_tail(0.7) * upper_tail(-1.1), abs=1e-14)
    assert upper_orthant(0.7, -1.1, 1.0) == pytest.approx(upper_tail(0.7))
    assert upper_orthant(0.0, 1.0, 0.0) == pytest.approx(0.5 * upper_tail(1.0))
    assert upper_orthant(1.0, 0.0, 0.0) == pytest.approx(0.5 * upper_tail(1.0))


@given(st.floats(0.1, 6.0), st.floats(-2.0, 40.0), st.floats(0.02, 0.6))
def test_a_kegs_co2_is_what_is_in_its_beer_and_over_it(volumes: float, celsius: float, share: float) -> None:
    keg = Bottle(9.0, celsius, share, gas_counted=True)
    assert keg.with_gas(volumes) > volumes
    assert keg.in_beer(keg.with_gas(volumes)) == pytest.approx(volumes, rel=1e-3)


def test_a_keg_at_its_limit_is_at_its_limit() -> None:
    keg = Bottle(5.0, 25.0, 0.2, gas_counted=True)
    assert keg.pressure_bar_gauge(keg.with_gas(keg.volumes_at_limit())) == pytest.approx(5.0, abs=0.005)
