"""How a plan goes on: by the beer, never cold before it is safe, and by nobody's accident."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.brewing.generic_yeasts import generic_yeast
from fermwatch.brewing.plan_library import usual_plan
from fermwatch.brewing.planning import BeerState, Lack, declares, due, gone_on, is_cold, lacks, mistakes
from fermwatch.model.amounts import plain
from fermwatch.model.batch import EventKind
from fermwatch.model.plan import Plan, PlanProgress, PlanStep, Until, plan_of
from fermwatch.model.yeast import Yeast
from fermwatch.science.yeasts import YEASTS

AT = datetime(2026, 3, 1, 12, tzinfo=UTC)
DAY = timedelta(days=1)
YEAST = Yeast("ale", "of a test", 17.0, 21.0, 0.72, 0.78)
ALL_MET = BeerState(1.0, steady=True, tested=True, safe=True)


def progress(steps: str, number: int = 0, **more: Any) -> PlanProgress:  # noqa: ANN401
    return replace(PlanProgress("1", plan_of(steps), number, AT), **more)


@pytest.mark.parametrize(
    ("steps", "seen", "lacking"),
    [
        ("18C until 60%; 20C", BeerState(), (Lack.WAY,)),
        ("18C until 60%; 20C", BeerState(0.59), (Lack.WAY,)),
        ("18C until 60%; 20C", BeerState(0.6), ()),
        ("18C until steady and tested; 20C", BeerState(0.6), (Lack.STEADY, Lack.TESTED)),
        ("18C until told; 20C", ALL_MET, (Lack.TOLD,)),
        ("18C for 2 days; 20C", ALL_MET, (Lack.DAYS,)),
        ("18C until steady; 2C", BeerState(1.0, steady=True), (Lack.SAFE,)),
        ("18C until steady; 2C", ALL_MET, ()),
    ],
)
def test_a_step_waits_for_the_beer(steps: str, seen: BeerState, lacking: tuple[Lack, ...]) -> None:
    assert lacks(progress(steps), seen, YEAST, AT + DAY) == lacking


def test_days_count_from_where_a_ramp_ends() -> None:
    ramp = progress("20C at 2C/day for 1 day; 18C", from_c=16.0)
    assert lacks(ramp, ALL_MET, YEAST, AT + 2.9 * DAY) == (Lack.DAYS,)
    assert lacks(ramp, ALL_MET, YEAST, AT + 3 * DAY) == ()


def test_the_next_step_goes_from_where_the_set_point_stood() -> None:
    following = gone_on(progress("20C at 2C/day; 2C at 4C/day", from_c=16.0), AT + DAY)
    assert (following.number, following.begun_at, following.from_c) == (1, AT + DAY, 18.0)


def test_a_plan_that_is_held_stays() -> None:
    assert due(progress("18C until steady; 20C", held=True), ALL_MET, YEAST, AT) is None
    assert due(progress("18C until steady; 20C"), ALL_MET, YEAST, AT) is not None


def test_after_its_last_step_it_is_over() -> None:
    over = due(progress("18C until steady"), ALL_MET, YEAST, AT)
    assert over is not None
    assert over.step is None
    assert due(over, ALL_MET, YEAST, AT + DAY) is None
    assert lacks(over, BeerState(), YEAST, AT) == ()


KINDS = sorted(YEASTS)
steps = st.builds(PlanStep, st.floats(-2.0, 40.0), st.just(Until(steady=True)), st.none() | st.floats(0.5, 5.0))


@given(st.lists(steps, min_size=2, max_size=6), st.sampled_from(KINDS), st.floats(0, 2), st.booleans())
def test_no_plan_makes_cold_what_is_not_safe(made: list[PlanStep], kind: str, way: float, tested: bool) -> None:
    yeast, seen = generic_yeast(kind), BeerState(way, steady=True, tested=tested)
    here = PlanProgress("1", Plan(tuple(made)), 0, AT)
    for day in range(12):
        here = due(here, seen, yeast, AT + day * DAY) or here
        assert here.step is None or not is_cold(here.step, yeast) or is_cold(made[0], yeast), "but who begins cold"
    safe = replace(seen, safe=True)
    assert here.step is None or due(here, safe, yeast, AT + 12 * DAY) is not None, "but for that it goes on"


@pytest.mark.parametrize(
    ("steps", "number", "declared"),
    [
        ("18C; 20C", 1, None),
        ("18C; 22C", 1, (EventKind.REST, {"target_c": 22.0, "from_c": 18.0})),
        ("18C; 2C", 1, (EventKind.CRASH, {"target_c": 2.0, "from_c": 18.0})),
        ("22C; 20C", 1, (EventKind.BACK_TO_RANGE, {})),
        (
            "18C; 22C at 2C/day",
            1,
            (EventKind.RAMP, {"target_c": 22.0, "from_c": 18.0, "by": (AT + 2 * DAY).isoformat()}),
        ),
    ],
)
def test_steps_are_the_rests_and_crashes_of_the_rules(steps: str, number: int, declared: object) -> None:
    assert declares(progress(steps, number, from_c=18.0), YEAST) == declared


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        ("10C", "this yeast ferments from 17 °C on, and a crash goes to -0.5–5 °C"),
        ("25C", "a rest of this yeast goes to 22 °C at the most"),
        ("2C; 18C until 80%", "waits for yeast to go on that was made cold"),
    ],
)
def test_what_no_plan_of_a_yeast_may_ask_is_said(steps: str, said: str) -> None:
    (found,) = mistakes(plan_of(steps), YEAST)
    assert said in plain(found)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_yeast_has_a_usual_plan_that_may_be_asked(kind: str) -> None:
    yeast = generic_yeast(kind)
    plan = usual_plan(yeast)
    assert list(mistakes(plan, yeast)) == []
    assert yeast.temperature_low_c <= plan.steps[0].target_c <= yeast.temperature_high_c
    assert not (yeast.diastatic and any(is_cold(step, yeast) for step in plan.steps)), "never an automatic crash"
