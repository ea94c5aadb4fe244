"""Rules about the beer's temperature, decided over hours and days."""

import math
from dataclasses import replace
from datetime import timedelta

import pytest

from fermwatch.alarms.life import Transition
from fermwatch.model.amounts import plain
from fermwatch.model.batch import EventKind
from fermwatch.model.finding import Phase, Severity
from fermwatch.model.rule_settings import RuleSettings
from fermwatch.rules.managing import AWAY, CYCLING
from fermwatch.rules.situation import GoodReading, slope_c_per_h
from fermwatch.rules.temperature import HIGH, LEAVING, LOW, NEAR_FREEZING
from tests.unit.rules.situations import (
    BATCH,
    DAY,
    HOUR,
    LEFT,
    MINUTE,
    START,
    Story,
    event,
    judged,
    steady,
)

RAISED, CLEARED, ESCALATED = Transition.RAISED, Transition.CLEARED, Transition.ESCALATED


@pytest.mark.parametrize(
    ("rule", "inside_c", "edge_c", "outside_c"), [(HIGH, 20.0, 21.4, 21.7), (LOW, 18.0, 16.6, 16.3)]
)
def test_a_warning_is_raised_after_two_hours_beyond_half_a_degree(
    rule: str, inside_c: float, edge_c: float, outside_c: float
) -> None:
    story = Story().go_on(DAY, steady(edge_c))
    assert rule not in story.standing()
    story = Story().go_on(2 * HOUR, steady(inside_c)).go_on(6 * HOUR, steady(outside_c))
    (raised,) = story.when(rule, RAISED)
    assert 4 * HOUR < raised <= 4 * HOUR + 40 * MINUTE  # two hours, once the median of an hour has moved
    alarm = story.decider.alarms[rule, LEFT]
    assert alarm.severity is Severity.WARNING
    assert f"{outside_c} °C" in plain(alarm.statement)
    assert "17–21 °C" in plain(alarm.statement)
    assert alarm.remedy


@pytest.mark.parametrize(
    ("rule", "outside_c", "deadband_c", "inside_c"), [(HIGH, 22.0, 21.3, 21.1), (LOW, 16.0, 16.7, 16.9)]
)
def test_it_clears_only_within_a_fifth_of_a_degree(
    rule: str, outside_c: float, deadband_c: float, inside_c: float
) -> None:
    story = Story().go_on(4 * HOUR, steady(outside_c))
    assert rule in story.standing()
    story.go_on(DAY, steady(deadband_c))
    assert story.when(rule, CLEARED) == []
    story.go_on(3 * HOUR, steady(inside_c))
    assert len(story.when(rule, CLEARED)) == 1
    assert rule not in story.standing()


def test_two_degrees_beyond_are_critical_within_a_quarter_of_an_hour_or_two() -> None:
    story = Story().go_on(2 * HOUR, steady(20.0)).go_on(HOUR, steady(23.5))
    (raised,) = story.when(HIGH, RAISED)
    assert 2 * HOUR + 15 * MINUTE <= raised <= 2 * HOUR + 30 * MINUTE
    assert story.decider.alarms[HIGH, LEFT].severity is Severity.CRITICAL


def test_no_alarm_that_stands_begins_with_the_range_it_is_within() -> None:
    """A lane marked "!" said "within the yeast's range": its hour was, and its last quarter of an hour was not."""
    story = Story().go_on(2 * HOUR, steady(20.0)).go_on(25 * MINUTE, steady(23.5))
    told = plain(story.decider.alarms[HIGH, LEFT].statement)
    assert told == "beer 23.5 °C (median of 15 min), 2.5 °C above the yeast's range of 17–21 °C"
    story.go_on(2 * HOUR, steady(23.5)).go_on(HOUR + 30 * MINUTE, steady(20.5))
    told = plain(story.decider.alarms[HIGH, LEFT].statement)
    assert HIGH in story.standing()
    assert told == "it was above and is back: beer 20.5 °C (median of 1 h), within the yeast's range of 17–21 °C"


def test_a_float_that_speaks_every_half_hour_can_be_critical_too() -> None:
    story = Story(every=30 * MINUTE).go_on(2 * HOUR, steady(20.0))
    story.every = 5 * MINUTE
    story.go_on(3 * HOUR, lambda since: 24.0 if since.seconds % 1800 == 0 else None)
    assert story.decider.alarms[HIGH, LEFT].severity is Severity.CRITICAL


def test_a_warning_that_becomes_critical_is_escalated_once() -> None:
    story = Story().go_on(4 * HOUR, steady(22.0)).go_on(2 * HOUR, steady(24.0)).go_on(4 * HOUR, steady(22.8))
    assert len(story.when(HIGH, RAISED)) == 1
    assert len(story.when(HIGH, ESCALATED)) == 1


def test_a_door_open_for_half_an_hour_is_nothing() -> None:
    story = Story().go_on(2 * HOUR, steady(20.5)).go_on(25 * MINUTE, steady(22.9)).go_on(3 * HOUR, steady(20.5))
    assert story.told == []


def test_heat_late_in_the_fermentation_is_said_quietly_unless_there_is_much_of_it() -> None:
    story = Story(judgement=judged(apparent_attenuation=0.60)).go_on(6 * HOUR, steady(25.0))
    assert story.decider.alarms[HIGH, LEFT].severity is Severity.ADVICE
    story.go_on(3 * HOUR, steady(28.0))
    assert story.decider.alarms[HIGH, LEFT].severity is Severity.WARNING
    assert len(story.when(HIGH, ESCALATED)) == 1


def test_only_an_early_heat_is_said_to_make_fusel_alcohol() -> None:
    early, late = Story(), Story(batch=replace(BATCH, pitched_at=START - 5 * DAY))
    for story in (early, late):
        story.go_on(4 * HOUR, steady(23.0))
    assert "Fusel" in early.decider.alarms[HIGH, LEFT].remedy
    assert "Fusel" not in late.decider.alarms[HIGH, LEFT].remedy


@pytest.mark.parametrize(
    ("because", "story"),
    [
        ("planned crash", Story(events=(event(EventKind.CRASH),))),
        ("cold after finishing", Story(judgement=judged(Phase.TERMINAL))),
        ("cold after finishing", Story(judgement=judged(Phase.CONDITIONING))),
    ],
)
def test_cold_on_purpose_or_after_finishing_is_recorded_and_calls_nobody(because: str, story: Story) -> None:
    story.go_on(4 * HOUR, steady(3.0))
    alarm = story.decider.alarms[LOW, LEFT]
    assert alarm.stands
    assert because in alarm.suppressed_by
    assert not alarm.needs_attention


def test_a_crash_that_was_voided_excuses_nothing() -> None:
    voided = replace(event(EventKind.CRASH), voided=True)
    assert Story(events=(voided,)).go_on(4 * HOUR, steady(10.0)).decider.alarms[LOW, LEFT].needs_attention


def test_wort_pitched_hot_is_left_alone_while_it_cools_and_judged_after_twelve_hours() -> None:
    story = Story(batch=replace(BATCH, pitched_at=START))
    story.go_on(10 * HOUR, lambda since: 27.0 - since / HOUR * 0.3)
    alarm = story.decider.alarms[HIGH, LEFT]
    assert alarm.stands
    assert "moving toward it" in alarm.suppressed_by
    story.go_on(3 * HOUR, lambda since: 24.0 - since / HOUR * 0.3)
    assert story.decider.alarms[HIGH, LEFT].needs_attention


def test_wort_pitched_hot_that_does_not_cool_is_told_at_once() -> None:
    story = Story(batch=replace(BATCH, pitched_at=START)).go_on(3 * HOUR, steady(25.0))
    assert story.decider.alarms[HIGH, LEFT].needs_attention


def test_an_empty_fermenter_and_packaged_beer_have_no_range() -> None:
    for story in (Story(batch=None), Story(judgement=judged(Phase.PACKAGED))):
        assert story.go_on(5 * HOUR, steady(30.0)).told == []


def test_an_alarm_that_stands_goes_stale_when_the_probe_falls_silent_and_never_clears_by_itself() -> None:
    story = Story().go_on(4 * HOUR, steady(23.0)).go_on(3 * DAY, lambda _: None)
    assert story.when(HIGH, CLEARED) == []
    (stale,) = story.when(HIGH, Transition.STALE)
    assert 5 * HOUR <= stale <= 5 * HOUR + 10 * MINUTE
    assert story.decider.alarms[HIGH, LEFT].last_known


def test_settings_of_a_fermenter_win() -> None:
    wide = RuleSettings(outside_warning_c=3.0, outside_critical_c=10.0)
    assert Story(settings=wide).go_on(5 * HOUR, steady(23.5)).told == []


def test_leaving_the_range_is_told_hours_before() -> None:
    story = Story().go_on(4 * HOUR, lambda since: 18.5 + since / HOUR * 0.5)
    (raised,) = story.when(LEAVING, RAISED)
    assert raised < 4 * HOUR
    assert "reaches 21 °C" in plain(story.decider.alarms[LEAVING, LEFT].statement)
    assert story.decider.alarms[LEAVING, LEFT].severity is Severity.ADVICE
    assert HIGH not in story.standing()


def test_a_slow_drift_inside_the_range_is_nothing() -> None:
    assert Story().go_on(DAY, lambda since: 18.0 + since / HOUR * 0.04).told == []


def test_a_finished_beer_may_leave_the_range() -> None:
    story = Story(judgement=judged(Phase.TERMINAL)).go_on(4 * HOUR, lambda since: 20.0 - since / HOUR * 0.6)
    assert story.when(LEAVING, RAISED) == []


def test_late_warmth_is_no_news_before_it_is_outside_and_late_cold_is() -> None:
    late = judged(Phase.SLOWING, apparent_attenuation=0.60)  # 80 % of the way
    warming = Story(judgement=late).go_on(4 * HOUR, lambda since: 18.5 + since / HOUR * 0.5)
    assert warming.when(LEAVING, RAISED) == []
    cooling = Story(judgement=late).go_on(4 * HOUR, lambda since: 19.5 - since / HOUR * 0.5)
    assert len(cooling.when(LEAVING, RAISED)) == 1


def test_away_from_its_set_point_is_told_after_three_hours_and_clears_nearer() -> None:
    story = Story().go_on(6 * HOUR, steady(20.2), steady(19.0))
    (raised,) = story.when(AWAY, RAISED)
    assert raised == 3 * HOUR + 5 * MINUTE
    story.go_on(4 * HOUR, lambda since: 22.0 - since / HOUR * 0.5, steady(19.0))
    told = story.decider.alarms[AWAY, LEFT]
    assert plain(told.remedy) == "It comes nearer by 0.5 °C an hour: leave it so."
    assert told.severity is Severity.ADVICE, "nobody is sent to a controller that manages"
    story.go_on(4 * HOUR, steady(19.7), steady(19.0))
    assert AWAY in story.standing()
    story.go_on(4 * HOUR, steady(19.3), steady(19.0))
    assert AWAY not in story.standing()


def test_one_that_comes_nearer_ever_slower_is_not_told_again_and_again() -> None:
    """Around the slope that counts as nearing it would turn from advice to a warning with each swing of the fridge."""
    story = Story().go_on(6 * HOUR, steady(22.0), steady(18.0))
    story.go_on(6 * HOUR, lambda since: 22.0 - since / HOUR * 0.4, steady(18.0))
    assert story.decider.alarms[AWAY, LEFT].severity is Severity.ADVICE

    def slower(since: timedelta) -> float:
        hours = since / HOUR
        return 19.6 - 0.09 * hours + 0.06 * math.sin(hours)

    story.go_on(8 * HOUR, slower, steady(18.0))
    assert AWAY in story.standing()
    assert story.when(AWAY, ESCALATED) == []
    story.go_on(8 * HOUR, steady(18.9), steady(18.0))
    assert len(story.when(AWAY, ESCALATED)) == 1, "one that stays away is told"


def test_it_stands_on_what_was_last_known_when_the_controller_falls_silent() -> None:
    story = Story().go_on(6 * HOUR, steady(20.2), steady(19.0)).go_on(DAY, steady(20.2))
    alarm = story.decider.alarms[AWAY, LEFT]
    assert alarm.stands
    assert alarm.last_known


def test_what_the_range_tells_already_is_not_told_again_by_the_set_point() -> None:
    story = Story().go_on(8 * HOUR, steady(22.5), steady(19.0))
    assert story.decider.alarms[HIGH, LEFT].needs_attention
    assert story.decider.alarms[AWAY, LEFT].suppressed_by == f"{HIGH} tells it"


def test_a_compressor_that_starts_six_times_an_hour_is_told() -> None:
    story = Story().switch([True, False] * 24, 5 * MINUTE)
    assert CYCLING in story.standing()
    three = Story().switch([True, True, False, False] * 12, 5 * MINUTE)
    assert CYCLING not in three.standing(), "three an hour are six in the two hours that are looked at"
    calm = Story().switch([True, True, False, False, False, False] * 10, 5 * MINUTE)
    assert calm.told == []


@pytest.mark.parametrize(("crash", "celsius", "told"), [(False, 0.8, True), (True, 0.8, False), (True, -1.2, True)])
def test_near_freezing_is_critical_and_a_crash_may_go_lower(crash: bool, celsius: float, told: bool) -> None:
    story = Story(events=(event(EventKind.CRASH),) if crash else ()).go_on(HOUR, steady(celsius))
    assert (NEAR_FREEZING in story.standing()) is told
    if told:
        assert story.decider.alarms[NEAR_FREEZING, LEFT].severity is Severity.CRITICAL


def test_frost_under_a_warmer_set_point_is_a_controller_that_does_not_manage() -> None:
    def remedy(set_point_c: float | None) -> str:
        story = Story().go_on(HOUR, steady(0.5), lambda _: set_point_c)
        return plain(story.decider.alarms[NEAR_FREEZING, LEFT].remedy)

    assert "not managing (set point 4.0 °C): take the cooling off the mains at its plug, with dry hands" in remedy(4.0)
    assert "Raise the set point from 0.5 °C now" in remedy(0.5)
    assert "Raise the set point now" in remedy(None)


def test_exactly_zero_is_a_temperature() -> None:
    story = Story().go_on(2 * HOUR, steady(6.0)).go_on(30 * MINUTE, steady(0.0))
    assert len(story.when(NEAR_FREEZING, RAISED)) == 1


def test_near_freezing_clears_with_a_deadband() -> None:
    story = Story().go_on(HOUR, steady(0.9)).go_on(2 * HOUR, steady(1.2))
    assert NEAR_FREEZING in story.standing()
    assert NEAR_FREEZING not in story.go_on(2 * HOUR, steady(1.5)).standing()


def test_a_slope_needs_some_time_and_some_readings() -> None:
    samples = tuple(GoodReading(START + n * 10 * MINUTE, 18 + n / 10) for n in range(7))
    assert slope_c_per_h(samples) == pytest.approx(0.6)
    assert slope_c_per_h(samples[:3]) is None
    assert slope_c_per_h(tuple(replace(one, at=START + timedelta(seconds=n)) for n, one in enumerate(samples))) is None
