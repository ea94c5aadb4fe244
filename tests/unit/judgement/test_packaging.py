import pytest

from fermwatch.judgement.filling import takes_creep
from fermwatch.judgement.forced import ForcedFerment
from fermwatch.judgement.packaging import left
from fermwatch.judgement.stillness import Decline
from fermwatch.model.batch import PackageChoice
from fermwatch.science.carbonation import ResidualCo2
from fermwatch.science.pressure_risk import Bottle, SugarDose, pressure_risk


def test_a_decline_that_is_not_ruled_out_is_left_for_the_bottle() -> None:
    surely_still = left(Decline(0.0, 0.02), 20.0, 12.0, 0.5, None)
    perhaps_not = left(Decline(0.1, 0.15), 20.0, 12.0, 0.5, None)
    assert surely_still.mean_points + 1.645 * surely_still.sd_points < 0.3
    assert perhaps_not.mean_points + 1.645 * perhaps_not.sd_points > 1.0


def test_the_same_decline_in_the_cold_leaves_more() -> None:
    warm, cold = (left(Decline(0.1, 0.1), celsius, 12.0, 0.5, None) for celsius in (20.0, 10.0))
    assert cold.mean_points > warm.mean_points


def test_a_forced_ferment_says_what_is_left() -> None:
    found = left(Decline(0.0, 0.5), 20.0, 14.0, 0.5, ForcedFerment(100.0, 11.0, 1.5))
    assert found.mean_points == pytest.approx(3.0)


def test_two_points_left_are_too_many_for_a_one_way_bottle_and_not_for_a_heavy_one() -> None:
    posterior = left(Decline(0.0, 0.5), 20.0, 14.0, 0.3, ForcedFerment(100.0, 12.0, 1.5))
    residual, dose = ResidualCo2(0.8, 0.95), SugarDose(6.1)
    weak, strong = (pressure_risk(posterior, residual, dose, Bottle(limit, 30.0)) for limit in (4.8, 7.5))
    assert not weak.acceptable
    assert strong.acceptable


@pytest.mark.parametrize(
    ("kind", "takes"),
    [("returnable-glass", False), ("heavy-glass", True), ("keg", True), ("growler", False), ("unheard-of", False)],
)
def test_only_strong_packages_take_what_may_creep(kind: str, takes: bool) -> None:
    assert takes_creep(PackageChoice(kind, 2.4)) is takes
    assert not takes_creep(None)
