"""Rests, ramps and crashes: silent while they go as they were meant, told where they do not, asked about once."""

import math
from dataclasses import replace
from datetime import timedelta

import pytest

from fermwatch.alarms.life import Transition
from fermwatch.model.amounts import plain
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.finding import Phase, Severity
from fermwatch.model.yeast import Yeast
from fermwatch.rules.asking import LOOKS_LIKE_CRASH, LOOKS_LIKE_REST
from fermwatch.rules.instruments import STUCK
from fermwatch.rules.managing import AWAY
from fermwatch.rules.temperature import HIGH, LEAVING, LOW, NEAR_FREEZING
from tests.unit.rules.situations import BATCH, DAY, HOUR, LEFT, START, Story, judged, steady

LAGER = Yeast("lager", "an invented lager yeast", 8.0, 14.0, 0.72, 0.8, bottom_fermenting=True)
COLD_BEER = replace(BATCH, yeast=LAGER)
RAISED, OUTSPOKEN = Transition.RAISED, Transition.OUTSPOKEN


def declares(kind: EventKind, after: timedelta = timedelta(), **data: float | str | bool) -> Event:
    return Event(f"{kind}-{after}", START + after, kind, data)


def lager(*events: Event, attenuation: float = 0.55, phase: Phase = Phase.SLOWING) -> Story:
    return Story(batch=COLD_BEER, judgement=judged(phase, apparent_attenuation=attenuation), events=events)


def rise(since: timedelta) -> float:
    """From 12 to 17 °C in a day and a half, and held."""
    return min(12.0 + since / HOUR * 5.0 / 36.0, 17.0)


def loud(story: Story) -> set[str]:
    """What calls somebody; that the scripted probe repeats itself exactly is another matter."""
    return {alarm.rule for alarm in story.decider.alarms.values() if alarm.needs_attention} - {STUCK}


def test_a_planned_rest_calls_nobody_from_its_beginning_to_the_way_back() -> None:
    until = (START + 5 * DAY).isoformat()
    story = lager(declares(EventKind.REST, target_c=17.0, until=until))
    for _ in range(9):
        story.go_on(12 * HOUR, lambda _: rise(story.now - START))
        assert loud(story) == set()
    assert story.decider.alarms[HIGH, LEFT].suppressed_by == "planned rest"
    assert story.decider.alarms[HIGH, LEFT].remedy == ""
    story.go_on(12 * HOUR, steady(17.0)).go_on(
        36 * HOUR, lambda since: 17.0 - since / HOUR / 9
    )  # 13 °C after a day and a half
    assert loud(story) == set()
    assert HIGH not in story.go_on(6 * HOUR, steady(13.0)).standing()


def test_a_rest_that_runs_away_is_told() -> None:
    story = lager(declares(EventKind.REST, target_c=17.0)).go_on(4 * HOUR, steady(17.0))
    story.judgement = judged(Phase.ACTIVE, apparent_attenuation=0.40)
    story.go_on(6 * HOUR, steady(26.0))
    alarm = story.decider.alarms[HIGH, LEFT]
    assert alarm.needs_attention
    assert alarm.severity is Severity.CRITICAL
    assert "beer 26.0 °C (median of 1 h), 8.0 °C above the way to the planned rest of 8–18 °C" in plain(alarm.statement)
    assert "Cool it toward 17 °C" in plain(alarm.remedy)


def test_a_rest_that_never_gets_warm_is_told_after_two_days() -> None:
    story = lager(declares(EventKind.REST, target_c=17.0)).go_on(47 * HOUR, steady(12.0))
    assert loud(story) == set()
    story.go_on(8 * HOUR, steady(12.0))
    assert loud(story) == {LOW}
    alarm = story.decider.alarms[LOW, LEFT]
    assert "4.0 °C below the planned rest of 16–18 °C" in plain(alarm.statement)


def test_a_rest_that_is_over_and_is_not_cooled_is_told() -> None:
    rest = declares(EventKind.REST, target_c=17.0)
    story = lager(rest, attenuation=0.4).go_on(DAY, steady(17.0))
    story.events = (rest, declares(EventKind.BACK_TO_RANGE, DAY))
    story.go_on(4 * HOUR, steady(17.0))
    assert HIGH in loud(story)


def test_heat_that_no_rest_meant_is_told_although_it_falls() -> None:
    rest = declares(EventKind.REST, target_c=17.0)
    story = lager(rest, attenuation=0.4).go_on(DAY, steady(17.0))
    story.events = (rest, declares(EventKind.BACK_TO_RANGE, DAY))
    story.go_on(4 * HOUR, lambda since: 24.0 - since / HOUR * 0.2)
    assert HIGH in loud(story)


def test_a_rest_that_wanders_about_its_target_is_silent() -> None:
    story = lager(declares(EventKind.REST, target_c=15.0))
    story.go_on(4 * DAY, lambda since: 15.0 + 0.6 * math.sin(since / DAY * 4 * math.pi))
    assert story.when(LEAVING, RAISED) == []
    assert loud(story) == set()


def test_a_rest_may_stray_as_far_as_a_yeasts_range_before_it_speaks() -> None:
    """Also where the alarm stands quietly already: only one that has spoken is held until the beer is well inside."""
    story = lager(declares(EventKind.REST, target_c=17.0)).go_on(8 * HOUR, steady(17.0))
    story.go_on(8 * HOUR, steady(18.3))  # 0.3 °C beyond the rest with its tolerance
    assert story.decider.alarms[HIGH, LEFT].stands
    assert loud(story) == set()
    assert HIGH in loud(story.go_on(4 * HOUR, steady(18.7)))


def test_a_ramp_down_is_silent_and_its_end_is_held() -> None:
    by = (START + 4 * DAY).isoformat()
    rest = declares(EventKind.REST, -5 * DAY, target_c=17.0)
    story = lager(rest, declares(EventKind.RAMP, target_c=2.0, from_c=17.0, by=by), attenuation=0.7)
    story.go_on(4 * DAY, lambda since: 17.0 - since / DAY * 3.75).go_on(2 * DAY, steady(2.0))
    assert loud(story) == set()


def test_what_looks_like_a_rest_is_asked_about_once_and_is_quiet_for_a_day() -> None:
    story = lager().go_on(36 * HOUR, rise)
    assert loud(story) == {LOOKS_LIKE_REST}
    asked = story.decider.alarms[LOOKS_LIKE_REST, LEFT]
    assert asked.severity is Severity.ADVICE
    assert "beer 16.9 °C, 2.9 °C above the yeast's range late on: is this a diacetyl rest?" in plain(asked.statement)
    assert "fermwatch note left rest --target 17C --until 3d" in plain(asked.remedy)
    assert "you are asked" in story.decider.alarms[HIGH, LEFT].suppressed_by
    story.go_on(30 * HOUR, steady(17.0))
    assert loud(story) == {HIGH}  # a day later it speaks for itself, and the question beside it does not
    assert len(story.when(LOOKS_LIKE_REST, RAISED)) == 1


def test_the_answer_ends_the_question() -> None:
    story = lager().go_on(36 * HOUR, rise)
    yes, no = declares(EventKind.REST, 36 * HOUR, target_c=17.0), declares(EventKind.BACK_TO_RANGE, 36 * HOUR)
    story.events = (yes,)
    story.go_on(7 * HOUR, steady(17.0))
    assert loud(story) == set()
    assert LOOKS_LIKE_REST not in story.standing()
    told = lager().go_on(36 * HOUR, rise)
    told.events = (no,)
    told.go_on(7 * HOUR, steady(17.0))
    assert HIGH in loud(told)


@pytest.mark.parametrize(
    ("story", "celsius"),
    [
        (lager(attenuation=0.30), 17.0),  # too early for a rest
        (lager(), 20.5),  # further above its range than a rest goes
        (Story(judgement=judged(Phase.SLOWING, apparent_attenuation=0.5)), 23.0),  # an ale
    ],
)
def test_what_is_no_rest_is_told_at_once(story: Story, celsius: float) -> None:
    story.go_on(5 * HOUR, steady(celsius))
    assert LOOKS_LIKE_REST not in story.standing()
    assert HIGH in loud(story)


def test_no_rest_is_warmer_than_22_degrees_however_near_its_range() -> None:
    warm_lager = replace(COLD_BEER, yeast=replace(LAGER, temperature_high_c=18.0))
    asked = {
        celsius: LOOKS_LIKE_REST in replace(lager(), batch=warm_lager).go_on(5 * HOUR, steady(celsius)).standing()
        for celsius in (21.9, 22.3)
    }
    assert asked == {21.9: True, 22.3: False}


def test_a_fall_after_finishing_is_asked_about_once() -> None:
    story = Story(judgement=judged(Phase.TERMINAL, apparent_attenuation=0.76))
    story.go_on(20 * HOUR, lambda since: max(19.0 - since / HOUR, 1.2)).go_on(5 * DAY, steady(1.2))
    assert loud(story) == {LOOKS_LIKE_CRASH}
    assert len(story.when(LOOKS_LIKE_CRASH, RAISED)) == 1
    asked = story.decider.alarms[LOOKS_LIKE_CRASH, LEFT]
    assert "fermwatch note left crash --target" in asked.remedy
    assert "draws air in" in asked.remedy


def test_a_crash_is_over_when_the_beer_is_warmed_again() -> None:
    story = Story(events=(declares(EventKind.CRASH, target_c=2.0),), judgement=judged(Phase.SLOWING))
    story.go_on(20 * HOUR, lambda since: 19.0 - since / HOUR * 0.85).go_on(DAY, steady(2.0))
    assert loud(story) == set()
    story.go_on(10 * HOUR, lambda since: 2.0 + since / HOUR * 1.8).go_on(6 * HOUR, steady(19.0))
    assert loud(story) == set()
    story.go_on(6 * HOUR, steady(12.0))
    assert LOW in loud(story)
    story.go_on(2 * HOUR, steady(0.5))
    assert NEAR_FREEZING in loud(story)


def test_a_crash_may_not_go_below_what_was_meant() -> None:
    story = Story(events=(declares(EventKind.CRASH, target_c=6.0),), judgement=judged(Phase.SLOWING))
    story.go_on(4 * HOUR, steady(6.2))
    assert loud(story) == set()
    story.go_on(4 * HOUR, steady(3.0))
    assert loud(story) == {LOW}
    assert plain(story.decider.alarms[LOW, LEFT].remedy).startswith("Warm it slowly toward 6 °C")


def test_a_ramp_may_go_as_cold_as_a_crash() -> None:
    by = (START + 2 * DAY).isoformat()
    story = lager(declares(EventKind.RAMP, target_c=1.0, from_c=12.0, by=by), phase=Phase.TERMINAL)
    story.go_on(2 * DAY, lambda since: 12.0 - since / DAY * 5.5).go_on(12 * HOUR, steady(0.6))
    assert loud(story) == set()


def test_a_crash_of_a_beer_that_is_still_too_warm_speaks_of_its_yeasts_range() -> None:
    story = Story(events=(declares(EventKind.CRASH, target_c=2.0),)).go_on(4 * HOUR, steady(23.5))
    assert "2.5 °C above the yeast's range of 17–21 °C" in plain(story.decider.alarms[HIGH, LEFT].statement)


def test_a_changed_set_point_is_silent_while_the_beer_follows_it() -> None:
    crash = declares(EventKind.CRASH, target_c=2.0)
    story = Story(events=(crash,), judgement=judged(Phase.TERMINAL))
    story.go_on(30 * HOUR, lambda since: 19.0 - since / HOUR * 0.5, steady(2.0))
    assert story.told == [] or loud(story) == set()
    assert story.when(AWAY, RAISED) == []
    assert story.when(LEAVING, RAISED) == []
    story.go_on(6 * HOUR, steady(8.0), steady(2.0))
    assert AWAY in loud(story)


def test_one_slow_wander_about_the_edge_is_one_alarm() -> None:
    def wander(since: timedelta) -> float:
        """Above the edge for three hours, below it for one and a half, eight times over."""
        return 21.7 if since % (4.5 * HOUR) < 3 * HOUR else 21.05

    story = Story().go_on(36 * HOUR, wander)
    assert len(story.when(HIGH, RAISED)) == 1


def test_a_question_that_is_over_says_what_is_so() -> None:
    story = lager().go_on(36 * HOUR, rise).go_on(12 * HOUR, lambda since: max(17.0 - since / HOUR * 3.0, 3.1))
    asked = story.go_on(12 * HOUR, steady(3.1)).decider.alarms[LOOKS_LIKE_REST, LEFT]
    assert not asked.stands
    assert "above the yeast's range" not in plain(asked.statement)
    assert plain(asked.statement).startswith("beer ")


@pytest.mark.parametrize("from_c", [None, 10.5])
def test_a_rest_that_warms_by_two_degrees_a_day_is_silent_all_the_way(from_c: float | None) -> None:
    """From 10.5 to 16.5 °C takes three days (common practice); after 48 h it was a warning."""
    rest = declares(EventKind.REST, target_c=16.5)
    story = lager(rest if from_c is None else replace(rest, data={**rest.data, "from_c": from_c}))
    for _ in range(9):
        story.go_on(8 * HOUR, lambda _: 10.5 + (story.now - START) / DAY * 2.0)
        assert loud(story) == set()
    assert loud(story.go_on(DAY, steady(16.5))) == set()


def test_a_rest_that_is_warmed_by_a_step_a_day_is_silent_too() -> None:
    story = lager(declares(EventKind.REST, target_c=16.5, from_c=10.5))
    for _ in range(12):
        story.go_on(8 * HOUR, lambda _: min(10.5 + 2.0 * ((story.now - START) // DAY + 1), 16.5))
        assert loud(story) == set()


def test_a_rest_that_stops_on_its_way_is_told() -> None:
    story = lager(declares(EventKind.REST, target_c=16.5)).go_on(50 * HOUR, lambda since: 10.5 + since / DAY * 1.5)
    assert loud(story) == set()
    assert loud(story.go_on(12 * HOUR, steady(13.6))) == {LOW}


def test_a_rest_that_creeps_or_that_comes_from_far_below_is_told() -> None:
    creeping = lager(declares(EventKind.REST, target_c=17.0)).go_on(60 * HOUR, lambda since: 11.0 + since / DAY * 0.4)
    assert loud(creeping) == {LOW}
    cold = lager(declares(EventKind.REST, target_c=17.0)).go_on(8 * HOUR, lambda since: 2.0 + since / DAY * 2.0)
    assert LOW in loud(cold)


def test_where_the_beer_is_once_an_alarm_of_cold_is_over_is_said_as_it_is() -> None:
    """At 15.5 °C it was said to be "6.5 °C within the edge of the yeast's range of 9-12 °C"."""
    story = lager(declares(EventKind.REST, target_c=17.0)).go_on(56 * HOUR, steady(12.0))
    assert loud(story) == {LOW}
    story.go_on(6 * HOUR, steady(16.6))
    over = plain(story.decider.alarms[LOW, LEFT].statement)
    assert over == "it was below and is back: beer 16.6 °C (median of 1 h), within the planned rest of 16–18 °C"
    story.events = (*story.events, declares(EventKind.BACK_TO_RANGE, 62 * HOUR))
    story.go_on(2 * HOUR, steady(16.6))
    assert "within the edge" not in plain(story.decider.alarms[LOW, LEFT].statement)
