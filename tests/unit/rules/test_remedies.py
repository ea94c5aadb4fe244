"""What to do, over every combination of set point, phase, declaration, temperature and last act: one way, never two."""

import itertools
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fermwatch.judgement.advice import MEASURE_FIRST, ROUSE
from fermwatch.model.amounts import plain
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.finding import Alarm, Phase
from fermwatch.model.intent import course_of
from fermwatch.rules.remedies import (
    Circumstances,
    Direction,
    of_a_late_start,
    of_a_stall,
    of_cold,
    of_frost,
    of_heat,
)
from tests.unit.rules.situations import BATCH, DAY, HOUR, START, Story, judged, steady

PLANS = ("nothing", "rest", "ramp", "crash", "rest over")


def declared(plan: str) -> tuple[Event, ...]:
    began = START - 3 * DAY
    if plan == "rest":
        return (Event("r", began, EventKind.REST, {"target_c": 23.0}),)
    if plan == "ramp":
        return (Event("r", began, EventKind.RAMP, {"target_c": 24.0, "by": (START - DAY).isoformat()}),)
    if plan == "crash":
        return (Event("c", began, EventKind.CRASH, {"target_c": 2.0}),)
    if plan == "rest over":
        return (
            Event("r", began, EventKind.REST, {"target_c": 23.0}),
            Event("b", START - HOUR, EventKind.BACK_TO_RANGE),
        )
    return ()


def known(
    temperature_c: float | None,
    set_point_c: float | None = None,
    phase: Phase | None = Phase.ACTIVE,
    plan: str = "nothing",
    more: tuple[Event, ...] = (),
    *,
    late: bool = False,
) -> Circumstances:
    events = (*declared(plan), *more)
    return Circumstances(BATCH, START, temperature_c, set_point_c, phase, course_of(events, START), events, late)


@pytest.mark.parametrize(
    ("set_point_c", "told"),
    [
        (None, "Cool it toward 19 °C: lower the set point, close the door, or move it."),
        (19.0, "Lower its set point from 19.0 °C to 19 °C."),
        (15.0, "The controller is not managing (set point 15.0 °C, 9.0 °C below the beer): look at the door"),
        (24.0, "Lower its set point to 19 °C: 24.0 °C is above the yeast's range itself."),
    ],
)
def test_heat_knows_the_set_point(set_point_c: float | None, told: str) -> None:
    temperature_c = 24.0 if set_point_c != 19.0 else 19.9
    assert told in plain(of_heat(known(temperature_c, set_point_c)).text)


MOVED = Event("m", START - timedelta(hours=3), EventKind.NOTE, text="Moved to the cold side.")


@pytest.mark.parametrize(
    ("here", "told"),
    [
        (
            replace(known(24.0, 15.0, more=(MOVED,)), pace_c_per_h=-1.2),
            "Moved to the cold side). It cools by 1.2 °C an hour. Leave it so, and hold it at 19 °C once it is back in",
        ),
        (replace(known(24.0), pace_c_per_h=-1.2), "It cools by 1.2 °C an hour. Leave it so, and hold it"),
        (replace(known(24.0, 15.0), pace_c_per_h=-0.1), "The controller is not managing"),
        (replace(known(24.0, 15.0), pace_c_per_h=1.2), "The controller is not managing"),
        (replace(known(34.0, 15.0), pace_c_per_h=-0.5), "The controller is not managing"),
        (replace(known(24.0, 24.0), pace_c_per_h=-1.2), "Lower its set point to 19 °C"),
    ],
    ids=["moved", "unsaid", "too slowly", "away", "not today", "set wrong"],
)
def test_who_has_done_what_works_is_not_sent_to_do_more(here: Circumstances, told: str) -> None:
    assert told in plain(of_heat(here).text)


def test_what_warms_up_again_is_left_to_it() -> None:
    here = replace(known(14.0, 19.0, more=(MOVED,)), pace_c_per_h=0.8)
    assert "It warms by 0.8 °C an hour. Leave it so" in plain(of_cold(here).text)


@pytest.mark.parametrize(
    ("set_point_c", "told"),
    [
        (None, "Warm it slowly toward 19 °C."),
        (17.0, "Raise its set point from 17.0 °C to 19 °C."),
        (20.0, "The controller is not managing (set point 20.0 °C, 3.8 °C above the beer): look at the heating"),
        (15.0, "Raise its set point to 19 °C: 15.0 °C is below the yeast's range itself."),
    ],
)
def test_cold_knows_the_set_point(set_point_c: float | None, told: str) -> None:
    assert told in plain(of_cold(known(16.2, set_point_c)).text)


@pytest.mark.parametrize(
    ("here", "way", "told"),
    [
        (known(18.0), Direction.WARM, "Warm it to 21 °C, the top of the yeast's range."),
        (known(18.0, 18.0), Direction.WARM, "the top of the yeast's range: its set point is 18.0 °C now."),
        (
            known(18.0, 21.0),
            Direction.WARM,
            "The controller is not managing (set point 21.0 °C, beer 18.0 °C): warm it to 21 °C by other means",
        ),
        (known(20.8), Direction.NEITHER, "At 20.8 °C it is warm enough."),
        (known(25.0), Direction.NEITHER, "At 25.0 °C it is warm enough."),
        (known(None), Direction.NEITHER, "How warm does it stand? The yeast's range goes up to 21 °C"),
        (
            known(4.0, plan="crash"),
            Direction.WARM,
            "crashed before it had finished: end the crash (fermwatch note left back",
        ),
        (known(20.9, plan="crash"), Direction.NEITHER, "Withdraw the crash: fermwatch note left back-to-range."),
        (known(20.0, plan="rest"), Direction.WARM, "Let the planned rest bring it to 23 °C"),
        (known(22.9, plan="rest"), Direction.NEITHER, "At 22.9 °C it is warm enough."),
    ],
)
def test_a_stall_knows_what_was_done_already(here: Circumstances, way: Direction, told: str) -> None:
    remedy = of_a_stall(here)
    assert remedy.way is way
    assert told in plain(remedy.text)
    assert remedy.text.startswith("Measure by hand first.")
    assert "Never aerate, and do not bottle." in remedy.text


def test_a_stall_that_was_measured_by_hand_needs_no_other_reading() -> None:
    remedy = of_a_stall(replace(known(19.0), read_by_hand=True))
    assert remedy.text.startswith("Warm it to")
    assert "Measure" not in remedy.text


def test_a_stall_after_racking_names_the_yeast_that_was_left_behind() -> None:
    racked = Event("t", START - 2 * DAY, EventKind.TRANSFER)
    assert "racked off the yeast" in of_a_stall(known(19.0, more=(racked,))).text
    long_ago = Event("t", START - 20 * DAY, EventKind.TRANSFER)
    assert "racked" not in of_a_stall(known(19.0, more=(long_ago,))).text


def test_frost_knows_a_controller_that_is_not_managing() -> None:
    assert "Raise the set point from 0.5 °C now." in plain(of_frost(0.6, 0.5).text)
    assert "The controller is not managing" in of_frost(0.6, 4.0).text
    assert "with dry hands" in of_frost(0.6, 4.0).text


def test_every_combination_has_one_way_and_words_that_go_that_way() -> None:
    temperatures = (None, 0.5, 4.0, 12.0, 16.0, 19.0, 20.8, 22.0, 23.1, 26.0)
    set_points = (None, 2.0, 15.0, 19.0, 21.0, 24.0)
    for temperature_c, set_c, phase, plan, late in itertools.product(
        temperatures, set_points, (None, *Phase), PLANS, (False, True)
    ):
        here = known(temperature_c, set_c, phase, plan, late=late)
        for remedy in (of_heat(here), of_cold(here), of_a_stall(here), of_a_late_start(here)):
            assert remedy.text.endswith(".")
            assert ".." not in plain(remedy.text)
            assert ways_said(remedy.text) <= ({remedy.way} - {Direction.NEITHER}), (here, remedy)


# The words by which a brewer is sent one way or the other.
COOLER = ("Cool it", "ower its set point", "lower the set point", "lower it to", "cooler")
WARMER = (
    "Warm it",
    "warm it",
    "aise its set point",
    "aise the set point",
    "raise it to",
    "warmer",
    "warm up",
    "bring it",
)


def ways_said(text: str) -> set[Direction]:
    """Which ways a text sends somebody, read as a person reads it."""
    said = text.replace("it is warm enough", "")
    ways = {Direction.COOL} if any(word in said for word in COOLER) else set()
    return ways | ({Direction.WARM} if any(word in said for word in WARMER) else set())


def test_what_the_verdict_advises_beside_a_stalls_alarm_sends_nobody_anywhere() -> None:
    """It stands below the alarm on one screen: `cool it` above and `or warm it` below was one."""
    assert ways_said(ROUSE) == ways_said(MEASURE_FIRST) == set()


def spoken(alarms: list[Alarm]) -> dict[str, set[Direction]]:
    return {alarm.rule: ways_said(alarm.remedy) for alarm in alarms if alarm.stands and not alarm.is_quiet}


spans = st.lists(
    st.tuples(
        st.sampled_from((-1.5, 0.8, 4.0, 12.0, 15.5, 16.9, 18.0, 20.7, 21.3, 22.0, 24.0, 27.0)),
        st.sampled_from((None, 2.0, 15.0, 19.0, 21.0, 24.0)),
        st.sampled_from((2, 4, 9)),
    ),
    min_size=1,
    max_size=4,
)


@settings(deadline=None)
@given(spans, st.sampled_from((None, *Phase)), st.sampled_from(PLANS), st.sampled_from((0.1, 0.5, 0.7)))
def test_no_two_alarms_of_a_fermenter_send_opposite_ways(
    course: list[tuple[float, float | None, int]], phase: Phase | None, plan: str, attenuation: float
) -> None:
    judgement = None if phase is None else judged(phase, apparent_attenuation=attenuation)
    story = Story(judgement=judgement, events=declared(plan), every=timedelta(minutes=15))
    for temperature_c, set_c, hours in course:
        story.go_on(hours * HOUR, steady(temperature_c), lambda _, set_c=set_c: set_c)  # type: ignore[misc]
        ways = spoken(list(story.decider.alarms.values()))
        assert not {Direction.COOL, Direction.WARM} <= set().union(*ways.values()), ways
