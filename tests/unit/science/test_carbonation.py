"""Priming, residual CO2, gravity left: the trade's rules of thumb come out, and what makes no sense is refused."""

import pytest

from fermwatch.errors import InputError, OutOfDomain
from fermwatch.science import carbonation, solubility
from fermwatch.science.carbonation import SUGARS, ResidualCo2


@pytest.mark.parametrize(
    ("slug", "grams", "practice"),
    [
        ("sucrose", 3.84, False),
        ("glucose", 4.05, False),
        ("glucose-monohydrate", 4.45, False),
        ("dry-malt-extract", 6.4, True),
        ("honey", 5.1, True),
    ],
)
def test_grams_per_litre_and_volume(slug: str, grams: float, practice: bool) -> None:
    assert SUGARS[slug].g_per_l_per_volume == pytest.approx(grams, abs=0.006)
    assert SUGARS[slug].common_practice is practice
    assert (SUGARS[slug].spread > 0.0) is practice


def test_a_sugar_is_found_by_its_name_however_it_is_joined() -> None:
    assert carbonation.sugar_named(" Glucose_Monohydrate ") is SUGARS["glucose-monohydrate"]


def test_an_unknown_sugar_names_the_known_ones() -> None:
    with pytest.raises(InputError, match="sucrose"):
        carbonation.sugar_named("gravel")


def test_a_target_below_what_the_beer_holds_is_refused_with_the_reason() -> None:
    with pytest.raises(InputError, match="No sugar is needed: the beer already holds more"):
        carbonation.priming_sugar_g_per_l(1.0, 4.0)


def test_sugar_brings_back_the_volumes_it_was_reckoned_for() -> None:
    grams = carbonation.priming_sugar_g_per_l(2.5, 20.0, "honey")
    held = carbonation.residual_volumes(20.0)
    assert held + carbonation.volumes_from_sugar(grams, "honey") == pytest.approx(2.5, abs=1e-12)


def test_at_1500_m_beer_of_20_degrees_holds_0_67_volumes_and_not_0_80() -> None:
    high = solubility.pressure_at_altitude_bar(1500.0)
    assert carbonation.residual_volumes(20.0) == pytest.approx(0.80, abs=0.005)
    assert carbonation.residual_volumes(20.0, atmosphere_bar=high) == pytest.approx(0.67, abs=0.005)


def test_the_interval_runs_from_the_warmest_to_the_supersaturated_end() -> None:
    interval = carbonation.residual_interval(22.0, 18.0)
    assert interval.low == pytest.approx(0.76, abs=0.01)
    assert interval.high == pytest.approx(1.15 * 0.855, abs=0.01)
    assert interval.middle == pytest.approx(0.5 * (interval.low + interval.high))


def test_head_pressure_at_the_end_raises_the_high_end_alone() -> None:
    still = carbonation.residual_interval(20.0, 20.0)
    spunded = carbonation.residual_interval(20.0, 20.0, head_pressure_bar_gauge=1.0)
    assert spunded.low == still.low
    assert spunded.high > 1.8 * still.high


def test_beer_fed_with_co2_is_in_balance_with_it_as_it_is_now() -> None:
    interval = carbonation.residual_interval_fed(20.0, 2.0, 0.7)
    assert interval.high == pytest.approx(solubility.volumes(0.7, 2.0))
    assert interval.low == pytest.approx(carbonation.residual_volumes(20.0))
    assert interval.low < interval.high


def test_the_warmest_cannot_be_below_the_end() -> None:
    with pytest.raises(OutOfDomain, match="warmest"):
        carbonation.residual_interval(18.0, 20.0)


def test_an_interval_upside_down_is_refused() -> None:
    with pytest.raises(OutOfDomain):
        ResidualCo2(1.0, 0.8)


@pytest.mark.parametrize(("og", "fg"), [(1.032, 1.006), (1.048, 1.010), (1.083, 1.020)])
def test_one_point_is_about_half_a_volume(og: float, fg: float) -> None:
    assert 0.51 <= carbonation.volumes_per_point(og, fg) <= 0.55


def test_four_points_left_are_two_volumes() -> None:
    assert carbonation.volumes_left(1.050, 1.014, 1.010) == pytest.approx(2.09, abs=0.02)


def test_swapped_gravities_are_refused() -> None:
    with pytest.raises(OutOfDomain, match="swapped"):
        carbonation.volumes_left(1.050, 1.010, 1.014)


def test_a_batch_of_20_litres_fills_a_room_with_co2() -> None:
    assert carbonation.batch_co2_kg(20.0, 12.0, 3.0) == pytest.approx(0.75, abs=0.05)


def test_a_brim_full_bottle_is_refused() -> None:
    with pytest.raises(OutOfDomain, match="empty"):
        carbonation.trapped_air_bar(0.005, 30.0)


def test_a_bottle_filled_cold_presses_more_when_it_is_warm() -> None:
    assert carbonation.trapped_air_bar(0.04, 30.0, filling_c=4.0) > carbonation.trapped_air_bar(0.04, 30.0)


def test_four_volumes_are_four_bar_warm_and_one_and_a_half_cold() -> None:
    assert solubility.pressure_bar_gauge(4.0, 20.0) == pytest.approx(4.1, abs=0.05)
    assert solubility.pressure_bar_gauge(4.0, 0.0) == pytest.approx(1.5, abs=0.05)
