"""Rules that put the judgement of a batch into findings."""

from dataclasses import replace
from datetime import timedelta

import pytest

from fermwatch.model.amounts import plain
from fermwatch.model.batch import Event, EventKind, GravityOrigin
from fermwatch.model.finding import Evidence, Phase, Severity, VerdictKind
from fermwatch.model.judgement import Judgement, Verdict
from fermwatch.model.quantity import Quantity
from fermwatch.model.rule_settings import DEFAULTS
from fermwatch.rules.gravity import (
    ABOVE_RANGE,
    DRIFTING,
    READING_DUE,
    RESTARTED,
    RISING,
    SINCE_THEN,
    SLOW_START,
    STALLED,
    WITHDRAWN,
    phases,
)
from fermwatch.rules.situation import ProbeState, Situation
from tests.unit.rules.situations import BATCH, DAY, HOUR, START, Story, judged, steady, trend

SUBJECT = "batch:one"
NOTHING = steady(19.0)


@pytest.mark.parametrize(
    ("phase", "rule"), [(Phase.NOT_STARTED, SLOW_START), (Phase.STALLED, STALLED), (Phase.RESTARTED, RESTARTED)]
)
def test_a_phase_that_needs_somebody_is_told_at_once_with_what_to_do(phase: Phase, rule: str) -> None:
    story = Story(judgement=judged(phase, "early in a cold spell")).go_on(HOUR, NOTHING)
    alarm = story.decider.alarms[rule, SUBJECT]
    assert alarm.stands
    assert "early in a cold spell" in alarm.statement
    assert alarm.remedy


def test_a_stall_is_told_with_its_numbers_and_the_remedies_in_order() -> None:
    story = Story(judgement=judged(Phase.STALLED, rate_points_per_day=-0.1, gravity_sg=1.026, temperature_c=16.2))
    story.go_on(HOUR, steady(16.8))
    alarm = story.decider.alarms[STALLED, SUBJECT]
    assert "steady (within 0.6 points/day)" in plain(alarm.statement)
    assert "12 points above" in plain(alarm.statement)
    assert "beer 16.8 °C, range 17–21 °C" in plain(alarm.statement)
    words = ("by hand", "Warm it to", "rouse", "fresh, active", "Never aerate")
    assert sorted(words, key=alarm.remedy.index) == list(words)


def test_it_clears_when_the_beer_moves_again() -> None:
    story = Story(judgement=judged(Phase.STALLED)).go_on(HOUR, NOTHING)
    story.judgement = judged(Phase.ACTIVE)
    assert STALLED not in story.go_on(HOUR, NOTHING).standing()


@pytest.mark.parametrize(
    ("rule", "first", "then", "rate", "told"),
    [
        (STALLED, Phase.STALLED, Phase.RESTARTED, -8.0, "it ferments again, falling 8 points/day"),
        (STALLED, Phase.STALLED, Phase.TERMINAL, 0.0, "it has finished, steady (within 0.5 points/day)"),
        (RESTARTED, Phase.RESTARTED, Phase.CONDITIONING, 0.0, "it has finished, steady (within 0.5 points/day)"),
        (RESTARTED, Phase.RESTARTED, Phase.STALLED, 0.0, "it stands still, steady (within 0.5 points/day)"),
        (SLOW_START, Phase.NOT_STARTED, Phase.ACTIVE, -8.0, "it ferments, falling 8 points/day"),
    ],
)
def test_what_is_over_is_told_by_what_is_so_now(rule: str, first: Phase, then: Phase, rate: float, told: str) -> None:
    """A stall that is over is not told as if a restart were the alarm, nor a beer that finished as one that falls."""
    story = Story(judgement=judged(first, "a reason")).go_on(HOUR, NOTHING)
    story.judgement = judged(then, "it falls again after a stall", rate_points_per_day=rate)
    alarm = story.go_on(HOUR, NOTHING).decider.alarms[rule, SUBJECT]
    assert not alarm.stands
    assert plain(alarm.statement) == told


def test_every_phase_has_words_for_what_is_over() -> None:
    assert set(SINCE_THEN) == set(Phase)


def test_without_a_judgement_nothing_is_cleared() -> None:
    story = Story(judgement=judged(Phase.STALLED)).go_on(HOUR, NOTHING)
    story.judgement = None
    story.go_on(DAY, NOTHING)
    assert story.decider.alarms[STALLED, SUBJECT].last_known


@pytest.mark.parametrize(("rate", "sd", "told"), [(3.0, 0.5, True), (3.0, 2.0, False), (0.5, 0.01, False)])
def test_gravity_rises_only_when_that_is_sure(rate: float, sd: float, told: bool) -> None:
    story = Story(judgement=judged(rate_points_per_day=rate, rate_sd_points_per_day=sd)).go_on(8 * HOUR, NOTHING)
    assert (RISING in story.standing()) is told


@pytest.mark.parametrize(("attenuation", "told"), [(0.86, True), (0.79, False)])
def test_attenuation_above_the_range_says_not_to_bottle(attenuation: float, told: bool) -> None:
    story = Story(judgement=judged(apparent_attenuation=attenuation)).go_on(DAY, NOTHING)
    assert (ABOVE_RANGE in story.standing()) is told
    if told:
        assert "Do not bottle" in story.decider.alarms[ABOVE_RANGE, SUBJECT].remedy


def test_a_gravity_probe_that_drifts_is_advice() -> None:
    drift = judged(probe_drift_points_per_day=-0.9, probe_drift_sd_points_per_day=0.2)
    story = Story(judgement=drift).go_on(DAY, NOTHING)
    assert story.decider.alarms[DRIFTING, SUBJECT].stands
    assert story.decider.alarms[DRIFTING, SUBJECT].severity is Severity.ADVICE


@pytest.mark.parametrize(
    ("kind", "in_hours", "told"),
    [
        (VerdictKind.CONFIRM, -1, True),
        (VerdictKind.NOT_YET, -1, True),
        (VerdictKind.CONFIRM, 48, False),
        (VerdictKind.SAFE, -1, False),
    ],
)
def test_a_reading_is_due_when_it_would_settle_the_verdict(kind: VerdictKind, in_hours: int, told: bool) -> None:
    verdict = Verdict(kind, START, next_reading_at=START + timedelta(hours=in_hours), next_reading_why="to settle it")
    story = Story(judgement=Judgement(START, verdict=verdict)).go_on(7 * HOUR, NOTHING)
    assert (READING_DUE in story.standing()) is told


def test_a_reading_that_is_due_is_told_once_though_what_is_reckoned_moves() -> None:
    story = Story()
    for due_h in (-1, 20, -1, 20, -1):
        due = story.now + timedelta(hours=due_h)
        verdict = Verdict(VerdictKind.NOT_YET, START, next_reading_at=due, next_reading_why="One would settle it.")
        story.judgement = Judgement(story.now, verdict=verdict)
        story.go_on(12 * HOUR, NOTHING)
    alarm = story.decider.alarms[READING_DUE, SUBJECT]
    assert alarm.occurrence == 1
    assert "is due since 2026-03-03 11:00 UTC, when you next pass. One would settle it" in plain(alarm.statement)


def test_what_is_due_later_is_not_due_since_then() -> None:
    story = Story()
    for due_h in (-1, 20):
        verdict = Verdict(VerdictKind.NOT_YET, START, next_reading_at=story.now + timedelta(hours=due_h))
        story.judgement = Judgement(story.now, verdict=verdict)
        story.go_on(8 * HOUR, NOTHING)
    alarm = story.decider.alarms[READING_DUE, SUBJECT]
    assert alarm.stands
    assert "since" not in alarm.statement


def test_a_reading_that_is_due_for_three_hours_only_calls_nobody() -> None:
    story = Story(judgement=Judgement(START, verdict=Verdict(VerdictKind.NOT_YET, START, next_reading_at=START)))
    story.go_on(3 * HOUR, NOTHING)
    story.judgement = Judgement(START, verdict=Verdict(VerdictKind.NOT_YET, START))
    assert READING_DUE not in story.go_on(12 * HOUR, NOTHING).standing()


def test_while_two_readings_contradict_each_other_no_further_one_is_due() -> None:
    evidence = (Evidence("readings by hand", met=False, statement="contradict"),)
    verdict = Verdict(VerdictKind.NOT_YET, START, evidence=evidence, next_reading_at=START)
    assert READING_DUE not in Story(judgement=Judgement(START, verdict=verdict)).go_on(DAY, NOTHING).standing()


def test_what_was_safe_and_is_not_any_more_is_told_and_over_once_it_is_again() -> None:
    falls = Verdict(VerdictKind.NOT_YET, START, withdrawn="gravity falls again")
    story = Story(judgement=Judgement(START, verdict=Verdict(VerdictKind.SAFE, START))).go_on(HOUR, NOTHING)
    assert WITHDRAWN not in story.standing()
    story.judgement = Judgement(START, verdict=falls)
    alarm = story.go_on(HOUR, NOTHING).decider.alarms[WITHDRAWN, SUBJECT]
    assert (alarm.stands, alarm.severity) == (True, Severity.WARNING)
    assert plain(alarm.statement) == "it was found safe to bottle, and is not any more: gravity falls again"
    assert plain(alarm.remedy).startswith("Do not bottle it.")
    story.judgement = Judgement(START, verdict=Verdict(VerdictKind.SAFE, START))
    assert WITHDRAWN not in story.go_on(HOUR, NOTHING).standing()


def test_beer_that_ferments_again_tells_that_it_is_not_safe_any_more_itself() -> None:
    verdict = Verdict(VerdictKind.HOLD, START, withdrawn="gravity falls again")
    story = Story(judgement=replace(judged(Phase.RESTARTED), verdict=verdict)).go_on(HOUR, NOTHING)
    assert story.decider.alarms[RESTARTED, SUBJECT].stands
    assert story.decider.alarms[WITHDRAWN, SUBJECT].suppressed_by


def test_a_drift_that_is_known_less_well_for_a_while_is_told_once() -> None:
    story = Story()
    for sd in (0.2, 0.5, 0.2, 0.5):
        story.judgement = judged(probe_drift_points_per_day=-0.9, probe_drift_sd_points_per_day=sd)
        story.go_on(DAY, NOTHING)
    assert story.decider.alarms[DRIFTING, SUBJECT].occurrence == 1


def test_a_drift_that_was_told_is_over_once_it_is_half_as_much() -> None:
    story = Story()

    def drifts(points_per_day: float) -> bool:
        story.judgement = judged(probe_drift_points_per_day=points_per_day, probe_drift_sd_points_per_day=0.02)
        return DRIFTING in story.go_on(DAY, NOTHING).standing()

    assert [drifts(per_day) for per_day in (-0.3, -0.5, -0.3, -0.15, -0.3)] == [False, True, True, False, False]


@pytest.mark.parametrize(
    ("origin", "by", "first"),
    [
        (GravityOrigin.MEASURED, "probe", "the probe drifts"),
        (GravityOrigin.TOPPED_UP, "hydrometer", "the original gravity was measured before"),
        (GravityOrigin.MEASURED, "hydrometer", "sugar or fruit"),
    ],
)
def test_all_causes_of_too_much_attenuation_are_named_likeliest_first(
    origin: GravityOrigin, by: str, first: str
) -> None:
    above = replace(trend(apparent_attenuation=0.90), measured_by=by)
    story = Story(batch=replace(BATCH, original_origin=origin), judgement=Judgement(START, above))
    statement = story.go_on(DAY, NOTHING).decider.alarms[ABOVE_RANGE, SUBJECT].statement
    assert f"likeliest first: {first}" in statement
    assert all(cause in statement for cause in ("diastatic yeast", "infection", "sugar or fruit"))


def test_of_a_batch_of_which_nothing_was_heard_signs_of_life_are_asked_for_until_some_are_noted() -> None:
    story = Story(batch=replace(BATCH, pitched_at=START), judgement=Judgement(START)).go_on(DAY, NOTHING)
    assert SLOW_START not in story.standing()
    assert SLOW_START in story.go_on(3 * DAY, NOTHING).standing()
    assert "signs of life" in story.decider.alarms[SLOW_START, SUBJECT].statement
    story.events = (Event("e", story.now, EventKind.OBSERVATION, {"what": "signs-of-life"}),)
    assert SLOW_START not in story.go_on(HOUR, NOTHING).standing()


@pytest.mark.parametrize(
    ("quantity", "flagged", "asked"),
    [(Quantity.GRAVITY, "", False), (Quantity.GRAVITY, "cannot be", True), (Quantity.BEER_TEMPERATURE, "", True)],
)
def test_whose_gravity_is_heard_need_not_be_asked_for_signs_of_life(
    quantity: Quantity, flagged: str, asked: bool
) -> None:
    probe = ProbeState("left-one", quantity, 300.0, START, flagged)
    silent_for_days = replace(BATCH, pitched_at=START - 4 * DAY)
    situation = Situation(START, "left", silent_for_days, Judgement(START), probes=(probe,))
    (told,) = [finding for finding in phases(situation, DEFAULTS) if finding.rule == SLOW_START]
    assert told.holds is asked
    before = replace(situation, probes=(replace(probe, last_at=START - 5 * DAY),))
    assert next(iter(phases(before, DEFAULTS))).holds, "what it said of the beer before is nothing"


def test_a_level_above_its_range_that_was_read_by_hand_needs_no_other_reading_first() -> None:
    above = replace(judged(), trend=trend(apparent_attenuation=0.90))
    asked = Story(judgement=above).go_on(DAY, NOTHING).decider.alarms[ABOVE_RANGE, SUBJECT].remedy
    assert asked.startswith("Measure by hand first. Do not bottle")
    read = Evidence("hydrometer reading", met=True, statement="hydrometer 1.005")
    verdict = Verdict(VerdictKind.HOLD, START, (), (read,))
    told = Story(judgement=replace(above, verdict=verdict)).go_on(DAY, NOTHING).decider.alarms[ABOVE_RANGE, SUBJECT]
    assert told.remedy.startswith("Do not bottle")


def test_an_ended_batch_takes_its_alarms_along() -> None:
    story = Story(judgement=judged(Phase.STALLED)).go_on(HOUR, NOTHING)
    changes = story.decider.retire(SUBJECT, story.now)
    assert {change.alarm.rule for change in changes if change.transitions} == {STALLED}
    story.batch = story.judgement = None
    assert story.go_on(HOUR, NOTHING).standing() == set()
    assert story.decider.retire(SUBJECT, story.now) == []
