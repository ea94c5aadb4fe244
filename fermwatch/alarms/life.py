"""The life cycle: a pure step from one alarm and one finding to the next alarm.

Condition: normal -> pending (on-delay) -> raised -> clearing (off-delay) -> normal. Attention is another axis: an
occurrence is acknowledged or not, shelved until an end, out of service, or quiet by design; none of these stops the
condition from being evaluated and recorded. No data holds every timer: silence never raises and never clears.
"""

from dataclasses import replace
from datetime import datetime, timedelta
from enum import StrEnum

from fermwatch.model.finding import Alarm, Condition, Finding, Severity, Timing


class Transition(StrEnum):
    """What there is to tell, and to write into the journal."""

    RAISED = "raised"
    ESCALATED = "escalated"  # an alarm that stood is graver now: it needs to be seen again
    OUTSPOKEN = "no longer quiet"  # it stood, quiet by design, and the reason for that is gone
    CLEARED = "cleared"
    STALE = "stale"  # no fresh data: it stands on what was last heard
    FRESH = "fresh"


# What a person is told of as it happens; that evidence went stale, or came back, belongs to the alarm's own journal.
TOLD = frozenset({Transition.RAISED, Transition.ESCALATED, Transition.OUTSPOKEN, Transition.CLEARED})


def step(alarm: Alarm, finding: Finding, timing: Timing, now: datetime) -> tuple[Alarm, tuple[Transition, ...]]:
    """The alarm after this finding, and what is worth telling of it."""
    alarm = _expire_shelf(alarm, now)
    if finding.holds is None:
        return _without_data(alarm, now)
    alarm = _resume(alarm, now)
    told: list[Transition] = []
    if alarm.last_known:
        alarm = replace(alarm, last_known=False)
        told.append(Transition.FRESH)
    alarm, moved = (
        _while_it_holds(alarm, finding, timing, now) if finding.holds else _while_over(alarm, finding, timing, now)
    )
    return alarm, (*told, *moved)


def _expire_shelf(alarm: Alarm, now: datetime) -> Alarm:
    if alarm.shelved_until is not None and now >= alarm.shelved_until:
        return replace(alarm, shelved_until=None, shelved_by="")
    return alarm


def _without_data(alarm: Alarm, now: datetime) -> tuple[Alarm, tuple[Transition, ...]]:
    """The timers stand still; an alarm that stands goes on standing, and is marked."""
    if alarm.condition is Condition.NORMAL:
        return alarm, ()
    alarm = replace(alarm, unknown_since=alarm.unknown_since or now)
    if alarm.stands and not alarm.last_known:
        return replace(alarm, last_known=True), (Transition.STALE,)
    return alarm, ()


def _resume(alarm: Alarm, now: datetime) -> Alarm:
    """Data again: each timer goes on from where it stood, since silence proves nothing."""
    if alarm.unknown_since is None:
        return alarm
    silent = now - alarm.unknown_since
    timed = alarm.condition in {Condition.PENDING, Condition.CLEARING}
    return replace(
        alarm,
        since=alarm.since + silent if timed and alarm.since else alarm.since,
        worse_since=alarm.worse_since + silent if alarm.worse_since else None,
        unknown_since=None,
    )


def _while_it_holds(
    alarm: Alarm, finding: Finding, timing: Timing, now: datetime
) -> tuple[Alarm, tuple[Transition, ...]]:
    critical = finding.severity is Severity.CRITICAL
    worse_since = (alarm.worse_since or now) if critical else None
    outspoken = alarm.stands and bool(alarm.suppressed_by) and not _quiet(finding)
    alarm = replace(
        alarm,
        statement=finding.statement,
        remedy=finding.remedy,
        suppressed_by=_quiet(finding),
        told_by=finding.told_by,
        worse_since=worse_since,
    )
    due_critical = worse_since is not None and now - worse_since >= timing.until_critical()
    if alarm.stands:
        alarm, moved = _still_standing(alarm, finding.severity, due_critical=due_critical)
        return alarm, (*((Transition.OUTSPOKEN,) if outspoken else ()), *moved)
    since = alarm.since if alarm.condition is Condition.PENDING and alarm.since else now
    if due_critical or now - since >= timing.on_delay:
        severity = finding.severity if not critical or due_critical else Severity.WARNING
        return _raise(alarm, severity, now), (Transition.RAISED,)
    return replace(alarm, condition=Condition.PENDING, since=since), ()


def _quiet(finding: Finding) -> str:
    return finding.quiet_because or (f"{finding.told_by} tells it" if finding.told_by else "")


def _still_standing(alarm: Alarm, now_is: Severity, *, due_critical: bool) -> tuple[Alarm, tuple[Transition, ...]]:
    """What grows graver asks to be seen again; what grows milder does not."""
    if alarm.condition is Condition.CLEARING:
        alarm = replace(alarm, condition=Condition.RAISED, since=alarm.raised_at)
    if now_is is Severity.CRITICAL and not due_critical:
        now_is = max(alarm.severity, Severity.WARNING, key=lambda severity: severity.rank)
    graver = now_is.rank > alarm.severity.rank
    alarm = replace(alarm, severity=now_is)
    if not graver:
        return alarm, ()
    return replace(alarm, acknowledged_at=None, acknowledged_by=""), (Transition.ESCALATED,)


def _raise(alarm: Alarm, severity: Severity, now: datetime) -> Alarm:
    return replace(
        alarm,
        condition=Condition.RAISED,
        severity=severity,
        since=now,
        raised_at=now,
        acknowledged_at=None,
        acknowledged_by="",
        occurrence=alarm.occurrence + 1,
    )


def _while_over(alarm: Alarm, finding: Finding, timing: Timing, now: datetime) -> tuple[Alarm, tuple[Transition, ...]]:
    if alarm.worse_since is not None:
        alarm = replace(alarm, worse_since=None)
    if alarm.condition is Condition.PENDING:
        return replace(alarm, condition=Condition.NORMAL, since=now), ()
    if not alarm.stands:
        return alarm, ()
    since = alarm.since if alarm.condition is Condition.CLEARING and alarm.since else now
    if now - since >= timing.off_delay:
        over = finding.statement or alarm.statement
        # What was quiet by design stays so: its end calls nobody either.
        cleared = replace(alarm, condition=Condition.NORMAL, since=now, cleared_at=now, statement=over)
        return cleared, (Transition.CLEARED,)
    # What is getting over asks for nothing more; its statement says how far it is.
    statement = finding.statement or alarm.statement
    return replace(alarm, condition=Condition.CLEARING, since=since, statement=statement, remedy=""), ()


def shift(alarm: Alarm, by: timedelta) -> Alarm:
    """The same alarm after the clock was set: what runs goes on as if it had not been. Shelving keeps its end."""
    if alarm.condition is Condition.NORMAL:
        return alarm
    timed = alarm.condition in {Condition.PENDING, Condition.CLEARING}
    return replace(
        alarm,
        since=_moved(alarm.since, by) if timed else alarm.since,
        worse_since=_moved(alarm.worse_since, by),
        unknown_since=_moved(alarm.unknown_since, by),
    )


def _moved(at: datetime | None, by: timedelta) -> datetime | None:
    return None if at is None else at + by
