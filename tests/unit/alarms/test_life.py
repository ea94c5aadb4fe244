"""Every condition meets every kind of finding; what is told, and what each timer does."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from fermwatch.alarms.life import Transition, step
from fermwatch.model.finding import Alarm, Condition, Finding, Severity, Timing
from fermwatch.plain_data import from_text, to_text

NOW = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
TIMING = Timing(on_delay=120 * MINUTE, off_delay=15 * MINUTE, critical_on_delay=15 * MINUTE)
RULE, SUBJECT = "temperature-high", "vessel:left"


def finding(holds: bool | None, severity: Severity = Severity.WARNING, quiet_because: str = "") -> Finding:
    return Finding(RULE, SUBJECT, holds=holds, severity=severity, statement="s", quiet_because=quiet_because)


HOT, OVER, UNKNOWN = finding(True), finding(False), finding(None)
FAR = finding(True, Severity.CRITICAL)
NORMAL = Alarm(RULE, SUBJECT)
JUST_PENDING = replace(NORMAL, condition=Condition.PENDING, since=NOW - MINUTE)
LONG_PENDING = replace(NORMAL, condition=Condition.PENDING, since=NOW - 120 * MINUTE)
RAISED = replace(NORMAL, condition=Condition.RAISED, since=NOW - 60 * MINUTE, raised_at=NOW - 60 * MINUTE, occurrence=1)
SEEN = replace(RAISED, acknowledged_at=NOW - MINUTE, acknowledged_by="ada")
SOON_CRITICAL = replace(SEEN, worse_since=NOW - 15 * MINUTE)
CRITICAL = replace(RAISED, severity=Severity.CRITICAL)
JUST_CLEARING = replace(RAISED, condition=Condition.CLEARING, since=NOW - MINUTE)
LONG_CLEARING = replace(RAISED, condition=Condition.CLEARING, since=NOW - 15 * MINUTE)

TABLE = [
    # before, finding, condition after, what is told
    (NORMAL, HOT, Condition.PENDING, ()),
    (NORMAL, FAR, Condition.PENDING, ()),
    (NORMAL, OVER, Condition.NORMAL, ()),
    (NORMAL, UNKNOWN, Condition.NORMAL, ()),
    (JUST_PENDING, HOT, Condition.PENDING, ()),
    (JUST_PENDING, FAR, Condition.PENDING, ()),
    (JUST_PENDING, OVER, Condition.NORMAL, ()),
    (JUST_PENDING, UNKNOWN, Condition.PENDING, ()),
    (LONG_PENDING, HOT, Condition.RAISED, (Transition.RAISED,)),
    (LONG_PENDING, FAR, Condition.RAISED, (Transition.RAISED,)),
    (LONG_PENDING, OVER, Condition.NORMAL, ()),
    (LONG_PENDING, UNKNOWN, Condition.PENDING, ()),
    (RAISED, HOT, Condition.RAISED, ()),
    (RAISED, FAR, Condition.RAISED, ()),
    (RAISED, OVER, Condition.CLEARING, ()),
    (RAISED, UNKNOWN, Condition.RAISED, (Transition.STALE,)),
    (SOON_CRITICAL, FAR, Condition.RAISED, (Transition.ESCALATED,)),
    (CRITICAL, HOT, Condition.RAISED, ()),
    (JUST_CLEARING, HOT, Condition.RAISED, ()),
    (JUST_CLEARING, FAR, Condition.RAISED, ()),
    (JUST_CLEARING, OVER, Condition.CLEARING, ()),
    (JUST_CLEARING, UNKNOWN, Condition.CLEARING, (Transition.STALE,)),
    (LONG_CLEARING, HOT, Condition.RAISED, ()),
    (LONG_CLEARING, FAR, Condition.RAISED, ()),
    (LONG_CLEARING, OVER, Condition.NORMAL, (Transition.CLEARED,)),
    (LONG_CLEARING, UNKNOWN, Condition.CLEARING, (Transition.STALE,)),
]


@pytest.mark.parametrize(("before", "said", "condition", "told"), TABLE)
def test_every_condition_and_finding_has_a_next_condition(
    before: Alarm, said: Finding, condition: Condition, told: tuple[Transition, ...]
) -> None:
    after, transitions = step(before, said, TIMING, NOW)
    assert (after.condition, transitions) == (condition, told)


def test_the_table_leaves_no_pair_out() -> None:
    pairs = {(before.condition, said.holds, said.severity) for before, said, *_ in TABLE}
    kinds = {(said.holds, said.severity) for said in (HOT, FAR, OVER, UNKNOWN)}
    assert pairs == {(condition, *kind) for condition in Condition for kind in kinds}


def test_a_repeat_is_the_next_occurrence_and_asks_again() -> None:
    cleared, _ = step(replace(LONG_CLEARING, acknowledged_at=NOW, acknowledged_by="ada"), OVER, TIMING, NOW)
    again, transitions = step(cleared, HOT, Timing(), NOW + MINUTE)
    assert transitions == (Transition.RAISED,)
    assert again.occurrence == 2
    assert again.acknowledged_at is None
    assert again.cleared_at == NOW  # when it was last over
    assert again.needs_attention


def test_a_return_before_the_off_delay_is_the_same_occurrence() -> None:
    back, transitions = step(JUST_CLEARING, HOT, TIMING, NOW)
    assert back.since == RAISED.raised_at
    assert transitions == ()
    assert (back.occurrence, back.raised_at) == (RAISED.occurrence, RAISED.raised_at)


def test_an_escalation_asks_to_be_seen_again() -> None:
    after, _ = step(SOON_CRITICAL, FAR, TIMING, NOW)
    assert after.severity is Severity.CRITICAL
    assert after.acknowledged_at is None
    assert after.acknowledged_by == ""
    assert after.occurrence == SOON_CRITICAL.occurrence


def test_what_is_no_longer_critical_is_a_warning_and_stays_seen() -> None:
    seen = replace(CRITICAL, acknowledged_at=NOW, acknowledged_by="ada")
    after, transitions = step(seen, HOT, TIMING, NOW)
    assert (after.severity, transitions) == (Severity.WARNING, ())
    assert after.acknowledged_by == "ada"


def test_critical_is_due_sooner_than_a_warning() -> None:
    pending, _ = step(NORMAL, FAR, TIMING, NOW)
    raised, transitions = step(pending, FAR, TIMING, NOW + 15 * MINUTE)
    assert transitions == (Transition.RAISED,)
    assert raised.severity is Severity.CRITICAL


def test_what_was_critical_for_a_moment_is_raised_as_a_warning() -> None:
    raised, _ = step(LONG_PENDING, FAR, TIMING, NOW)
    assert raised.severity is Severity.WARNING


def test_what_was_critical_and_over_in_between_begins_to_count_anew() -> None:
    standing = RAISED
    for minutes, said in ((0, FAR), (10, OVER), (12, FAR)):
        standing, _ = step(standing, said, TIMING, NOW + minutes * MINUTE)
    standing, told = step(standing, FAR, TIMING, NOW + 20 * MINUTE)
    assert (standing.severity, told) == (Severity.WARNING, ())
    standing, told = step(standing, FAR, TIMING, NOW + 27 * MINUTE)
    assert (standing.severity, told) == (Severity.CRITICAL, (Transition.ESCALATED,))


def test_a_critical_alarm_that_returns_while_it_clears_is_critical_still() -> None:
    clearing, _ = step(replace(CRITICAL, acknowledged_at=NOW, acknowledged_by="ada"), OVER, TIMING, NOW)
    back, told = step(clearing, FAR, TIMING, NOW + MINUTE)
    assert (back.severity, back.acknowledged_by, told) == (Severity.CRITICAL, "ada", ())


def test_what_is_getting_over_asks_for_nothing_more() -> None:
    standing, _ = step(RAISED, replace(HOT, remedy="Cool it."), TIMING, NOW)
    assert standing.remedy == "Cool it."
    clearing, _ = step(standing, replace(OVER, statement="nearly there"), TIMING, NOW)
    assert (clearing.remedy, clearing.statement) == ("", "nearly there")


def test_a_silent_probe_leaves_its_alarm_standing_on_what_was_last_known() -> None:
    stale, told = step(RAISED, UNKNOWN, TIMING, NOW)
    for hours in range(1, 72):
        stale, more = step(stale, UNKNOWN, TIMING, NOW + timedelta(hours=hours))
        assert more == ()
    assert told == (Transition.STALE,)
    assert stale.stands
    assert stale.last_known
    fresh, told = step(stale, HOT, TIMING, NOW + timedelta(hours=80))
    assert told == (Transition.FRESH,)
    assert not fresh.last_known


def test_silence_counts_for_no_timer() -> None:
    silence = timedelta(hours=10)
    pending, _ = step(JUST_PENDING, UNKNOWN, TIMING, NOW)
    pending, told = step(pending, HOT, TIMING, NOW + silence)
    assert (pending.condition, told) == (Condition.PENDING, ())
    _, told = step(pending, HOT, TIMING, NOW + silence + 119 * MINUTE)
    assert told == (Transition.RAISED,)

    clearing, _ = step(JUST_CLEARING, UNKNOWN, TIMING, NOW)
    clearing, told = step(clearing, OVER, TIMING, NOW + silence)
    assert (clearing.condition, told) == (Condition.CLEARING, (Transition.FRESH,))
    _, told = step(clearing, OVER, TIMING, NOW + silence + 14 * MINUTE)
    assert told == (Transition.CLEARED,)

    worse, _ = step(RAISED, FAR, TIMING, NOW)
    worse, _ = step(worse, UNKNOWN, TIMING, NOW + MINUTE)
    worse, told = step(worse, FAR, TIMING, NOW + silence)
    assert told == (Transition.FRESH,)
    worse, told = step(worse, FAR, TIMING, NOW + silence + 14 * MINUTE)
    assert told == (Transition.ESCALATED,)


def test_a_shelf_ends_by_itself_and_evaluation_goes_on_meanwhile() -> None:
    shelved = replace(RAISED, shelved_until=NOW + 60 * MINUTE, shelved_by="ada")
    assert not shelved.needs_attention
    clearing, _ = step(shelved, OVER, TIMING, NOW)
    cleared, told = step(clearing, OVER, TIMING, NOW + 15 * MINUTE)
    assert told == (Transition.CLEARED,)
    again, told = step(cleared, HOT, Timing(), NOW + 30 * MINUTE)
    assert told == (Transition.RAISED,)
    assert not again.needs_attention
    after, told = step(again, HOT, TIMING, NOW + 60 * MINUTE)
    assert told == ()
    assert after.shelved_until is None
    assert after.needs_attention


def test_what_is_quiet_by_design_is_recorded_and_calls_nobody_also_when_it_ends() -> None:
    quiet = finding(True, quiet_because="planned crash")
    raised, told = step(NORMAL, quiet, Timing(), NOW)
    assert told == (Transition.RAISED,)
    assert not raised.needs_attention
    cleared, told = step(raised, OVER, Timing(), NOW + MINUTE)
    assert told == (Transition.CLEARED,)
    assert not cleared.needs_attention
    loud, _ = step(cleared, HOT, Timing(), NOW + 2 * MINUTE)
    assert loud.needs_attention


def test_out_of_service_is_recorded_and_calls_nobody() -> None:
    raised, told = step(replace(NORMAL, out_of_service=True), HOT, Timing(), NOW)
    assert told == (Transition.RAISED,)
    assert not raised.needs_attention


@pytest.mark.parametrize("alarm", [JUST_PENDING, RAISED, SOON_CRITICAL, CRITICAL, JUST_CLEARING])
@pytest.mark.parametrize("said", [HOT, FAR, OVER, UNKNOWN])
def test_an_alarm_read_back_from_the_store_goes_on_as_if_never_put_away(alarm: Alarm, said: Finding) -> None:
    shelved = replace(alarm, shelved_until=NOW + MINUTE, shelved_by="ada", unknown_since=NOW - MINUTE)
    assert step(from_text(Alarm, to_text(shelved)), said, TIMING, NOW) == step(shelved, said, TIMING, NOW)


def test_what_stood_quiet_by_design_is_told_when_the_reason_is_gone() -> None:
    start = datetime(2026, 3, 1, tzinfo=UTC)
    quiet = Finding("temperature-high", "vessel:left", holds=True, quiet_because="moving toward its range")
    alarm, told = step(Alarm("temperature-high", "vessel:left"), quiet, Timing(), start)
    assert told == (Transition.RAISED,)
    alarm, told = step(alarm, replace(quiet, quiet_because=""), Timing(), start + timedelta(hours=12))
    assert told == (Transition.OUTSPOKEN,)
    assert alarm.needs_attention
