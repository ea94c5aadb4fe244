"""The numbers of a bottling day."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.commands.batches.filling import UNKNOWN_LEFT, Filling, filling, forced_ferment, still_fermentable
from fermwatch.errors import InputError
from fermwatch.generic_yeasts import generic_yeast
from fermwatch.model.batch import Batch, Event, EventKind, PackageChoice
from fermwatch.model.judgement import Trend
from fermwatch.science.carbonation import residual_interval
from fermwatch.science.pressure_risk import FermentableLeft

NOW = datetime(2026, 3, 1, tzinfo=UTC)
BATCH = Batch("B1", "Harvest Ale", "left", 1.052, NOW, 18.0, generic_yeast("clean-ale"))
RETURNABLE = PackageChoice("returnable-glass", 2.4, 25.0)
HELD = residual_interval(20.0, 20.0)


def filled(left: FermentableLeft = UNKNOWN_LEFT, choice: PackageChoice = RETURNABLE, **more: float) -> Filling:
    return filling(BATCH, choice, HELD, left, **more)  # type: ignore[arg-type]


def trend(rate: float, rate_sd: float) -> Trend:
    return Trend(NOW, 1.010, 0.5, rate, rate_sd, 0.8)


def test_the_dose_lifts_the_beer_from_the_middle_of_what_it_holds() -> None:
    """3.84 g/L of sucrose a volume (342.30/(4 x 44.01) x 1.977)."""
    assert filled().dose.g_per_l == pytest.approx((2.4 - HELD.middle) * 3.84, rel=0.002)
    assert filled().sugar_g(18.0) == pytest.approx(18.0 * filled().dose.g_per_l)


def test_a_weighed_dose_goes_before_the_reckoned_one() -> None:
    assert filled(dose_g_per_l=8.0).dose.g_per_l == 8.0


@given(st.floats(0.0, 5.0), st.floats(0.0, 5.0))
def test_more_left_to_ferment_is_never_less_risky(one: float, other: float) -> None:
    low, high = sorted((one, other))
    lower, higher = (filled(FermentableLeft(points, 0.5)).risk for points in (low, high))
    assert lower.chance_over_limit <= higher.chance_over_limit + 1e-9


def test_four_points_left_are_too_much_for_a_one_way_bottle() -> None:
    risk = filled(FermentableLeft(4.0, 0.5), PackageChoice("one-way-glass", 2.4, 30.0)).risk
    assert not risk.acceptable
    assert risk.chance_over_limit > 0.9


def test_the_makers_figure_overrides_the_kinds() -> None:
    assert filled(choice=PackageChoice("returnable-glass", 2.4, 25.0, 4.0)).risk.limit_bar == 4.0


def test_a_refused_package_is_refused_whatever_its_maker_says() -> None:
    with pytest.raises(InputError, match="growler"):
        filled(choice=PackageChoice("growler", 2.4, 25.0, 9.0))


def test_a_still_trend_leaves_little_and_an_uncertain_one_more() -> None:
    still, unsure = still_fermentable(trend(0.0, 0.05), 20.0), still_fermentable(trend(0.0, 1.0), 20.0)
    assert still.sd_points == pytest.approx(0.25)
    assert unsure.sd_points == pytest.approx(5.0)


def test_stillness_in_the_cold_shows_less() -> None:
    assert still_fermentable(trend(-0.1, 0.1), 10.0).mean_points == pytest.approx(1.0)  # twice that of 20 °C
    assert still_fermentable(trend(-0.1, 0.1), 20.0).mean_points == pytest.approx(0.5)


def test_without_a_trend_a_hydrometers_own_doubt_remains() -> None:
    assert still_fermentable(None, None) == UNKNOWN_LEFT


def test_a_forced_ferment_says_what_is_left_until_sugar_voids_it() -> None:
    forced = Event("E1", NOW, EventKind.FORCED_FERMENT, {"gravity_sg": 1.008})
    sugar = Event("E2", NOW, EventKind.SUGAR, {"grams": 100.0})
    left = still_fermentable(trend(0.0, 0.05), 20.0, forced_ferment(BATCH, [forced]))
    assert left.mean_points == pytest.approx(2.0)
    assert forced_ferment(BATCH, [forced, sugar]) is None


def test_a_wild_trend_is_an_answer_and_no_error() -> None:
    assert not filled(still_fermentable(trend(-40.0, 30.0), 5.0)).risk.acceptable
