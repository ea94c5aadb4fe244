"""What is left to ferment: the courses that are weighed, and what measurements make of them."""

from dataclasses import replace

import numpy as np
import pytest

from fermwatch.judgement.courses import (
    CREEPING,
    DROPPED,
    HALF_RATE,
    ORDINARY,
    PRIOR,
    RESTING,
    chances,
    courses,
    fallen_since,
)
from fermwatch.judgement.facts import facts_of
from fermwatch.judgement.leftover import WITNESS_H, apart_h, enough, imagined, little_left, read_twice, unread
from fermwatch.judgement.remaining import Remaining, clock_of, look
from fermwatch.judgement.stillness import HandReading
from fermwatch.model.batch import EventKind
from tests.unit.judgement.beer import LAGER, SAISON, a_batch, brewed, event, fermenting, said

FACTS = facts_of(a_batch(), ())
FOUND = courses()


def by_hand(*read: tuple[float, float]) -> list[HandReading]:
    return [HandReading(f"{hour}", hour, points, 0.7, True) for hour, points in read]


def left(hour: float, *read: tuple[float, float], celsius: float | None = 19.5) -> Remaining:
    """Without a probe."""
    clock = clock_of([celsius] * int(hour / 3.0), FACTS)
    return look((), by_hand(*read), FACTS, clock, hour, 0.25)


@pytest.mark.parametrize("kind", [ORDINARY, DROPPED, CREEPING])
def test_a_course_obeys_its_own_law(kind: int) -> None:
    """Against small steps of dP/dtheta = -P / (m tau (1 + P/k)), from Michaelis and Menten's law of uptake."""
    theta, step = 9.0, 1e-3
    rows = np.flatnonzero(FOUND.kind == kind)
    for row in rows[:: max(len(rows) // 12, 1)]:
        points, fallen, ago = FOUND.left[row], 0.0, 0.0
        while ago < 1.5 and points < 30.0:
            slower = FOUND.times_slower[row] if points < FOUND.drop_at[row] else 1.0
            more = step * points / (FOUND.tau[row] * slower * (1.0 + points / HALF_RATE))
            points, fallen, ago = points + more, fallen + more + FOUND.creep[row] * step, ago + step
        if points < 30.0 and FOUND.left[row] > 0.01:
            assert fallen_since(FOUND, theta, np.array([ago]))[row, 0] == pytest.approx(fallen, rel=0.02, abs=0.02)


def test_a_beer_at_rest_stood_no_higher_until_it_came_to_rest() -> None:
    resting = FOUND.kind == RESTING
    lately = fallen_since(FOUND, 9.0, np.array([0.9]))[resting, 0]
    assert np.allclose(lately, 0.0, atol=0.03)
    assert (fallen_since(FOUND, 9.0, np.array([6.0]))[resting & (FOUND.stopped < 5.0), 0] > 0.3).all()


@pytest.mark.parametrize("theta", [0.5, 4.0, 12.0])
def test_chances_are_shares_of_all_beers(theta: float) -> None:
    found = chances(FOUND, FACTS, theta, warmth_known=True, prior=PRIOR)
    of_kind = np.bincount(FOUND.kind, weights=found)
    assert of_kind[ORDINARY] == pytest.approx(1.0 - PRIOR.drop - PRIOR.rest - PRIOR.creep, rel=1e-4)
    assert found.sum() <= 1.0 + 1e-9
    assert of_kind[DROPPED] <= PRIOR.drop * (1.0 + 1e-9)


def test_by_the_days_alone_less_is_left_the_later_it_is_and_the_warmer_it_stood() -> None:
    over = [left(24.0 * day).over_one for day in (2, 4, 6, 9, 14)]
    assert over == sorted(over, reverse=True)
    assert over[0] > 0.98
    assert over[-1] < 0.15
    assert left(150.0, celsius=16.0).over_one > left(150.0, celsius=22.0).over_one


def test_a_lager_takes_longer() -> None:
    lager = facts_of(a_batch(LAGER), ())
    clock = clock_of([11.0] * 64, lager)
    assert look((), (), lager, clock, 192.0, 0.25).over_one > left(192.0).over_one


def test_two_equal_readings_leave_little_and_two_that_fall_do_not() -> None:
    equal, falling = left(200.0, (150.0, 12.0), (198.0, 12.0)), left(200.0, (150.0, 15.0), (198.0, 12.0))
    assert 2.0 * equal.over_one < falling.over_one
    assert equal.creeping < falling.creeping
    assert falling.gravity == pytest.approx(12.0, abs=0.8)


def test_a_steady_slow_fall_below_the_range_is_taken_for_a_creep() -> None:
    steady = [(150.0 + 48.0 * place, 11.0 - 1.2 * place) for place in range(5)]
    level = [(150.0 + 48.0 * place, 12.0) for place in range(5)]
    assert left(345.0, *steady).creeping > 0.3
    assert left(345.0, *level).creeping < 0.01


def test_a_forced_ferment_says_where_it_ends() -> None:
    forced = event(96.0, EventKind.FORCED_FERMENT, gravity_sg=1.0085, temperature_c=25.0)
    judge = brewed(fermenting(), 9, read_at=(0.3, 144.0, 192.0), events=[forced])
    without = brewed(fermenting(), 9, read_at=(0.3, 144.0, 192.0))
    held = []
    for one in (judge, without):
        said(one, 200.0)
        assert one._latest is not None
        held.append(one._latest.view.remaining.over_two)
    assert held[0] > 0.2
    assert held[1] < 0.01


def test_what_an_imagined_reading_would_show_is_what_it_shows_once_it_is_read() -> None:
    judge = brewed(fermenting(), 9, read_at=(0.3, 150.0))
    said(judge, 199.0)
    assert judge._latest is not None
    view = judge._latest.view
    assert imagined(view, 12.0, view.hour).over_one < unread(view, view.hour).over_one
    again = replace(view, readings=[*view.readings, *by_hand((view.hour, 12.0))])
    assert again.remaining.over_one == pytest.approx(imagined(view, 12.0, view.hour).over_one)


def test_little_is_left_only_behind_two_fresh_readings_that_agree() -> None:
    views = {}
    for name, read_at in {"none": (), "one": (250.0,), "two": (200.0, 250.0), "old": (120.0, 150.0)}.items():
        judge = brewed(fermenting(), 11, probe=False, read_at=(0.3, *read_at))
        said(judge, 258.0)
        assert judge._latest is not None
        views[name] = judge._latest.view
    assert [read_twice(view) is not None for view in views.values()] == [False, False, True, False]
    assert little_left(views["two"])
    assert enough(views["two"].remaining)
    assert not little_left(views["old"])
    assert apart_h(views["two"]) == 40.0


@pytest.mark.parametrize("probe", [True, False])
def test_a_probe_that_stands_bears_witness_to_two_readings_that_differ_by_noise_alone(probe: bool) -> None:
    judge = brewed(fermenting(), 14, probe=probe, read_at=(0.3, 170.0, 220.0))
    said(judge, 300.0)
    assert judge._latest is not None
    view = judge._latest.view
    pair = by_hand((170.0, 13.0), (220.0, 11.0))

    def twice(hour: float) -> bool:
        return read_twice(replace(view, hour=hour, readings=pair)) is not None

    assert not twice(220.0 + WITNESS_H - 1.0)
    assert twice(220.0 + WITNESS_H) == probe
    assert twice(220.0 + 13.0 * 24.0) == probe
    assert not twice(220.0 + 15.0 * 24.0)
    far = replace(view, readings=by_hand((170.0, 14.0), (220.0, 11.0)))
    assert read_twice(far) is None


@pytest.mark.parametrize("probe", [True, False])
def test_a_second_that_reads_two_points_higher_shows_nothing(probe: bool) -> None:
    """Beer does not rise: the first slipped low, or the second high, and beer that crept down to it reads the same."""
    judge = brewed(fermenting(), 14, probe=probe, read_at=(0.3, 170.0, 220.0))
    said(judge, 300.0)
    assert judge._latest is not None
    view = replace(judge._latest.view, hour=230.0)
    for second, agrees in ((12.0, True), (13.0, True), (14.0, False)):
        assert (read_twice(replace(view, readings=by_hand((170.0, 12.0), (220.0, second)))) is not None) is agrees


@pytest.mark.parametrize(
    ("read", "agree"),
    [
        (((172.0, 14.5), (214.0, 13.5), (259.0, 12.5)), False),  # half a point a day, from one to the next
        (((80.0, 14.5), (120.0, 14.5), (144.0, 14.5), (216.0, 13.5)), False),  # it stood, and falls
        (((100.0, 16.0), (172.0, 13.0), (259.0, 12.0)), True),  # ever more slowly
        (((172.0, 13.0), (259.0, 12.0)), True),
        (((100.0, 13.0), (172.0, 13.0), (259.0, 13.0)), True),
    ],
)
def test_two_of_a_fall_that_goes_on_do_not_agree(read: tuple[tuple[float, float], ...], agree: bool) -> None:
    """A brewer who read a beer every other day, each a point lower, was told to bottle it."""
    judge = brewed(fermenting(), 14, probe=False, read_at=(0.3, 170.0, 220.0))
    said(judge, 300.0)
    assert judge._latest is not None
    view = replace(judge._latest.view, hour=read[-1][0] + 3.0, readings=by_hand(*read))
    assert (read_twice(view) is not None) is agree


def test_a_diastatic_yeast_is_never_judged_so() -> None:
    read_at = (0.3, 250.0, 320.0)
    judge = brewed(fermenting(end=6.0), 14, batch=a_batch(SAISON), read_at=read_at, temperature_c=lambda _hour: 24.0)
    said(judge, 330.0)
    assert judge._latest is not None
    assert not little_left(judge._latest.view)
