"""The numbers of a bottling day."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.brewing.generic_yeasts import generic_yeast
from fermwatch.desk.filling import Filling, by_dose, filling
from fermwatch.errors import InputError
from fermwatch.model.batch import Batch, KegWay, PackageChoice
from fermwatch.science.carbonation import residual_interval
from fermwatch.science.pressure_risk import FermentableLeft, SugarDose

NOW = datetime(2026, 3, 1, tzinfo=UTC)
BATCH = Batch("B1", "Harvest Ale", "left", 1.052, NOW, 18.0, generic_yeast("clean-ale"))
RETURNABLE = PackageChoice("returnable-glass", 2.4, 25.0)
BELOW = st.floats(-2.0, 40.0)
HELD = residual_interval(20.0, 20.0)
READ_ALIKE = FermentableLeft(0.0, 0.7)  # two hydrometer readings alike


def filled(left: FermentableLeft = READ_ALIKE, choice: PackageChoice = RETURNABLE, **more: object) -> Filling:
    return filling(BATCH, choice, HELD, left, **more)  # type: ignore[arg-type]


def test_the_dose_lifts_the_beer_from_the_middle_of_what_it_holds() -> None:
    """3.84 g/L of sucrose a volume (342.30/(4 x 44.01) x 1.977)."""
    assert filled().dose.g_per_l == pytest.approx((2.4 - HELD.middle) * 3.84, rel=0.002)
    assert filled().sugar_g(18.0) == pytest.approx(18.0 * filled().dose.g_per_l)


def test_a_weighed_dose_goes_before_the_reckoned_one_and_is_judged_for_what_it_gives() -> None:
    choice = by_dose(BATCH, RETURNABLE, HELD, SugarDose(8.0))
    assert choice.volumes == pytest.approx(HELD.middle + 8.0 / 3.84, abs=0.01)
    assert filled(choice=choice, dose=SugarDose(8.0)).dose.g_per_l == 8.0


def test_a_kegs_headspace_takes_its_share_of_the_sugar() -> None:
    """By the ideal gas: 2.9 bar of CO2, absolute, x 44.01 / (0.0831 x 293) x 0.05/0.95 / 1.977 = 0.14 volumes."""
    keg = PackageChoice("keg", 2.4, 20.0, 9.0, way=KegWay.PRIMED)
    usual, half_full = filled(choice=keg), filled(choice=keg, headspace_share=0.5)
    assert usual.dose.volumes == pytest.approx(2.4 - HELD.middle + 0.14, abs=0.01)
    assert half_full.dose.volumes > 2.0 * usual.dose.volumes
    for done, share in ((usual, None), (half_full, 0.5)):
        assert by_dose(BATCH, keg, HELD, done.dose, share).volumes == pytest.approx(2.4, abs=0.02)


def test_a_forced_keg_is_set_by_the_table_and_takes_no_sugar() -> None:
    """ASBC / Zahm-Nagel chart: 40 °F (4.4 °C) and 10 psi are 2.30 volumes."""
    done = filled(choice=PackageChoice("keg", 2.30, 40 / 9, way=KegWay.FORCED))
    assert done.set_bar == pytest.approx(10 / 14.504, abs=0.03)
    assert (done.dose.g_per_l, done.flat) == (0.0, False)
    with pytest.raises(InputError, match="no sugar"):
        by_dose(BATCH, done.choice, HELD, SugarDose(5.0))


def test_beer_that_holds_as_much_already_needs_no_sugar_and_stays_flat() -> None:
    assert filled(choice=PackageChoice("returnable-glass", 0.5)).flat


def test_cold_beer_is_not_primed() -> None:
    with pytest.raises(InputError, match="the yeast sleeps"):
        filled(choice=PackageChoice("keg", 2.4, 4.0, way=KegWay.PRIMED))
    assert filled(choice=PackageChoice("keg", 2.4, 4.0, conditioning_c=20.0, way=KegWay.PRIMED)).dose.g_per_l > 5.0


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


@given(st.sampled_from(["one-way-glass", "returnable-glass", "heavy-glass", "soda-pet"]), st.floats(0.0, 3.0), BELOW)
def test_the_most_that_is_told_fits_and_a_tenth_more_does_not(kind: str, points: float, storage_c: float) -> None:
    left = FermentableLeft(points, 0.5)
    most = filled(left, PackageChoice(kind, 2.4, storage_c)).most

    def fits(volumes: float) -> bool:
        return filled(left, PackageChoice(kind, volumes, storage_c)).risk.acceptable

    if most is None:
        assert not fits(0.1)
    else:
        assert fits(most)
        assert most == 6.0 or not fits(most + 0.1)
