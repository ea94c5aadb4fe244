import pytest

from fermwatch.judgement.filling import takes_creep
from fermwatch.judgement.forced import ForcedFerment
from fermwatch.judgement.packaging import left
from fermwatch.judgement.stillness import Decline
from fermwatch.model.batch import Event, EventKind, PackageChoice
from fermwatch.model.yeast import Yeast
from fermwatch.science.carbonation import ResidualCo2
from fermwatch.science.pressure_risk import Bottle, SugarDose, pressure_risk
from tests.unit.judgement.beer import ALE, SAISON, a_batch, brewed, event, fermenting, said


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


@pytest.mark.parametrize(
    ("yeast", "end", "events", "bounded"),
    [
        (ALE, 12.0, (), True),
        (ALE, 5.0, (), False),  # beyond its range: what went on so far may go on
        (SAISON, 7.0, (), False),
        (ALE, 12.0, (event(200.0, EventKind.DRY_HOP, grams=60.0),), False),
    ],
)
def test_a_yeasts_range_bounds_what_is_left_only_where_it_holds(
    yeast: Yeast, end: float, events: tuple[Event, ...], *, bounded: bool
) -> None:
    """One reading by hand says so little of how fast it falls that by it alone some ten points may be left."""
    judge = brewed(fermenting(end), 14.0, batch=a_batch(yeast), read_at=(288.0,), events=events, probe=False, seed=3)
    said(judge, 300.0)
    most = judge.left().mean_points + 2.0 * judge.left().sd_points
    assert (most < 6.0) is bounded, most
