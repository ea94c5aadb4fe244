"""A plan of temperatures: as people write it, as it is stored, and where its set point is."""

import re
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.model.amounts import plain
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.event_data import read
from fermwatch.model.plan import (
    HOW,
    BadPlan,
    Plan,
    PlanProgress,
    PlanStep,
    Until,
    plan_of,
    progress_by,
    progress_of,
    text_of,
)
from fermwatch.plain_data import Malformed
from fermwatch.saying.voice import CANONICAL, US, Units, Voice

AT = datetime(2026, 3, 1, 12, tzinfo=UTC)
DAY = timedelta(days=1)
ALE = "18C until 60%; 20C at 2C/day until steady and tested; 2C for 2 days"


def test_a_plan_is_read_as_people_write_it() -> None:
    plan = plan_of("64.4F until 60 % of the way;20 °C at 2 C/day until steady and tested; 2C, for 48h;")
    assert plan.steps == (
        PlanStep(18.0, Until(way=0.6)),
        PlanStep(20.0, Until(steady=True, tested=True), 2.0),
        PlanStep(2.0, Until(days=2.0)),
    )


@pytest.mark.parametrize("units", [CANONICAL, US])
def test_the_examples_are_plans_in_whatever_units_they_are_said(units: Units) -> None:
    examples = re.findall('"([^"]+)"', Voice(units).text(HOW))
    assert [len(plan_of(example).steps) for example in examples] == [3, 1]
    assert [round(plan_of(example).steps[0].target_c) for example in examples] == [18, 16]


def test_a_step_that_names_no_end_waits_for_a_word() -> None:
    assert plan_of("18C").steps == (PlanStep(18.0, Until(told=True)),)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "at least one step"),
        ("18C; warm until 60%", "step 2: 'warm until 60%' does not begin with a temperature"),
        ("18", "step 1: '18' does not begin with a temperature"),
        ("180C", "no temperature of beer"),
        ("18C until it is done", "step 1: 'it is done' ends no step"),
        ("18C until 160%", "no share of the way"),
        ("18C until 0%", "no share of the way"),
        ("18C at 90C/day for 1 day", "at most 20.0 °C a day"),
        ("18C at 0.001C/day for 1 day", "at least 0.1 °C"),
        ("18C for 999 days", "at most 120 days"),
        (";".join(["18C"] * 21), "at most 20 steps"),
    ],
)
def test_what_is_no_plan_is_told_with_its_step(text: str, said: str) -> None:
    with pytest.raises(BadPlan) as told:
        plan_of(text)
    assert said in plain(str(told.value))


untils = st.builds(
    Until,
    way=st.none() | st.integers(1, 100).map(lambda share: share / 100),
    steady=st.booleans(),
    tested=st.booleans(),
    told=st.booleans(),
    days=st.none() | st.integers(1, 100).map(float) | st.integers(1, 23).map(lambda hours: hours / 24),
).filter(lambda until: until != Until())
steps = st.builds(
    PlanStep,
    st.integers(-20, 400).map(lambda tenths: tenths / 10),
    untils,
    st.none() | st.integers(1, 200).map(lambda tenths: tenths / 10),
)


@given(st.lists(steps, min_size=1, max_size=20).map(lambda made: Plan(tuple(made))))
def test_what_is_stored_reads_as_the_same_plan(plan: Plan) -> None:
    again = plan_of(text_of(plan))
    for one, other in zip(again.steps, plan.steps, strict=True):
        assert (one.target_c, one.c_per_day) == (other.target_c, other.c_per_day)
        assert one.until == other.until or one.until.days == pytest.approx(other.until.days, rel=1e-4)


@given(st.text(max_size=80))
def test_no_text_is_more_than_refused(text: str) -> None:
    try:
        plan = plan_of(text)
    except BadPlan:
        return
    assert plan_of(text_of(plan)) == plan


def test_a_set_point_moves_along_its_ramp_and_stays_there() -> None:
    on_its_way = PlanProgress("1", plan_of("20C at 2C/day until steady"), 0, AT, from_c=16.0)
    assert on_its_way.there_at == AT + 2 * DAY
    assert [on_its_way.set_point_c(AT + days * DAY) for days in (0, 1, 2, 9)] == [16.0, 18.0, 20.0, 20.0]
    assert PlanProgress("1", plan_of("20C at 2C/day"), 0, AT).set_point_c(AT) == 20.0, "from nobody knows where"


def test_what_an_event_holds_is_what_was_meant() -> None:
    meant = PlanProgress("1", plan_of(ALE, "ale"), 1, AT, from_c=18.0, held=True, although="a reason")
    event = Event("1", AT + DAY, EventKind.PLAN, read(EventKind.PLAN, meant.data()))
    assert progress_by(event) == meant


@given(
    st.datetimes(timezones=st.just(UTC)),
    st.floats(-5.0, 100.0),
    st.sampled_from(("2C at 0.1C/day for 120 days", "40C at 20C/day", "18C for 0.001h")),
)
def test_no_event_that_was_ever_stored_stops_the_clockwork(begun: datetime, from_c: float, steps: str) -> None:
    """A begin at the end of the calendar made every look at the batch fail."""
    data = read(EventKind.PLAN, {"steps": steps, "begun": begun.isoformat(), "from_c": from_c})
    found = progress_by(Event("1", AT, EventKind.PLAN, data))
    assert found is not None
    set_point_c = found.set_point_c(AT + DAY)
    assert set_point_c is not None
    assert -5.0 <= set_point_c <= 100.0


@pytest.mark.parametrize("data", [{"steps": "nothing"}, {"steps": ALE, "step": 5.0}, {"steps": ALE, "step": 0.0}, {}])
def test_the_door_lets_no_plan_in_that_is_none(data: dict[str, float | str | bool]) -> None:
    with pytest.raises(Malformed):
        read(EventKind.PLAN, data)


def test_the_last_word_counts_and_packaging_ends_it() -> None:
    first = Event("1", AT, EventKind.PLAN, {"steps": "18C"})
    second = Event("2", AT + DAY, EventKind.PLAN, {"steps": "19C"})
    given_up = Event("3", AT + 2 * DAY, EventKind.PLAN, {"stopped": True})
    packaged = Event("4", AT + 2 * DAY, EventKind.PACKAGED)

    def target(*events: Event) -> float | None:
        found = progress_of(events, AT + 3 * DAY)
        return None if found is None else found.set_point_c(AT + 3 * DAY)

    assert target(first, second) == 19.0
    assert target(second, first, given_up) is None
    assert target(first, packaged) is None
    assert progress_of([first, second], AT) == progress_by(first), "what is yet to come is not in force"


@given(
    st.sampled_from(["18C until told", "12C at 1C/day for 9 days", "20C at 3C/day until 60%"]),
    st.none() | st.floats(0.0, 30.0),
    st.floats(-4000.0, 4000.0),
)
def test_a_set_point_lies_between_where_a_ramp_begins_and_ends_however_the_clock_stands(
    steps: str, from_c: float | None, days: float
) -> None:
    progress = PlanProgress("", plan_of(steps, ""), 0, AT, from_c)
    target_c = progress.set_point_c(AT + days * DAY)
    (step,) = progress.plan.steps
    ends = sorted((step.target_c, step.target_c if from_c is None else from_c))
    assert target_c is not None
    assert ends[0] - 1e-9 <= target_c <= ends[1] + 1e-9
