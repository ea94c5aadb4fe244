"""What is due to be told by one notifier now: from the alarms as they are, and what it told of each last.

There is no queue to lose: what must be told follows from the alarm's own row and the row of what was told, so that a
killed watcher, a notifier that was away for a day and a new one are one case. Whether people hear of something hangs
on its alarm alone, whose life has its own delays: nothing here decides what is wrong.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.model.finding import NO_MORE, Alarm, Condition, Severity
from fermwatch.model.telling import NotifierStatus, Speaks, Told, Why
from fermwatch.notify.hours import Hours

GATHERED = timedelta(seconds=30)  # what begins together is told together, and what is over at once is not told
PAUSE = timedelta(minutes=10)  # between two messages: what comes meanwhile is told in one
PRESSING_PAUSE = timedelta(minutes=2)  # where something grave is among it
NEWS = timedelta(days=3)  # what was over for longer is none
WORTH_TELLING = timedelta(hours=1)  # that something stood which is over, and of which nobody heard
JUST_TOLD = timedelta(hours=24)  # whoever heard of it today waits for its end
DAY = timedelta(days=1)
# Of what may speak at any hour; of what waits for a digest; the last one again and again.
REPEATS = (timedelta(hours=2), timedelta(hours=6), DAY, 2 * DAY, 4 * DAY, 7 * DAY)
DIGEST_REPEATS = (2 * DAY, 4 * DAY, 7 * DAY)
ADVICE_TIMES = 2  # advice that was not taken twice is known

Key = tuple[str, str]  # rule, subject


@dataclass(frozen=True, slots=True)
class Matter:
    """An alarm, or what is told like one. end_matters: that it is over is told too, whenever it speaks."""

    alarm: Alarm
    speaks: Speaks
    end_matters: bool = False

    @property
    def pace(self) -> Speaks:
        """Advice waits for the digest; what is critical waits for nothing."""
        if self.alarm.severity is Severity.CRITICAL:
            return Speaks.ANY_HOUR
        return Speaks.DIGEST if self.alarm.severity is Severity.ADVICE else self.speaks

    @property
    def end_is_told(self) -> bool:
        return self.end_matters or (self.pace is not Speaks.DIGEST and self.alarm.severity is not Severity.ADVICE)


@dataclass(frozen=True, slots=True)
class Due:
    """Something to tell now. times: how often this occurrence will have been told."""

    alarm: Alarm
    why: Why
    times: int = 1

    @property
    def presses(self) -> bool:
        return self.alarm.severity is Severity.CRITICAL and self.why in {Why.BEGAN, Why.WORSE}

    def told(self, notifier: str, message: str, at: datetime) -> Told:
        alarm = self.alarm
        return Told(
            notifier, alarm.rule, alarm.subject, alarm.occurrence, alarm.severity, self.why, at, self.times, message
        )


def due(
    matters: Iterable[Matter], told: Mapping[Key, Told], status: NotifierStatus, now: datetime, hours: Hours
) -> tuple[Due, ...]:
    """All that one message tells now, the worst first; empty where nothing is due, or the last one was just sent.

    told: what this notifier told of each last.
    """
    look = _Look(status, now, hours, hours.digest_is_due(status.digest_at or status.since, now))
    found = [one for matter in matters if (one := look.at(matter, told.get((matter.alarm.rule, matter.alarm.subject))))]
    pause = PRESSING_PAUSE if any(one.presses for one in found) else PAUSE
    if status.told_at is not None and timedelta() <= now - status.told_at < pause:
        return ()
    return tuple(sorted(found, key=lambda one: (one.why in {Why.OVER, Why.PASSED}, one.alarm.urgency)))


@dataclass(frozen=True, slots=True)
class _Look:
    status: NotifierStatus
    now: datetime
    hours: Hours
    digest: bool

    def at(self, matter: Matter, before: Told | None) -> Due | None:
        alarm = matter.alarm
        same = before if before is not None and before.occurrence == alarm.occurrence else None
        if alarm.is_quiet or alarm.occurrence == 0:
            return None
        if not alarm.stands:
            return self._over(matter, same)
        if alarm.acknowledged_at is not None or alarm.condition is Condition.CLEARING:
            return None  # what is getting over is over soon, or stands again
        why = Why.BEGAN if same is None else self._told_already(matter, same)
        if why is None or not self._may_speak(matter, why):
            return None
        return Due(alarm, why, 1 if same is None else same.times + 1)

    def _told_already(self, matter: Matter, before: Told) -> Why | None:
        if matter.alarm.severity.rank > before.severity.rank:
            return Why.WORSE
        if matter.alarm.severity is Severity.ADVICE and before.times >= ADVICE_TIMES:
            return None
        repeats = REPEATS if matter.pace is Speaks.ANY_HOUR else DIGEST_REPEATS
        wait = repeats[min(before.times, len(repeats)) - 1]
        return Why.AGAIN if self.now - before.at >= wait else None

    def _may_speak(self, matter: Matter, why: Why) -> bool:
        began = matter.alarm.raised_at
        if why is Why.BEGAN and began is not None and timedelta() <= self.now - began < GATHERED:
            return False
        if matter.pace is Speaks.ANY_HOUR:
            return True
        if matter.pace is Speaks.DIGEST or why is Why.AGAIN:
            return self.digest
        return not self.hours.is_night(self.now)

    def _over(self, matter: Matter, same: Told | None) -> Due | None:
        alarm = matter.alarm
        if not matter.end_is_told or alarm.statement == NO_MORE:
            return None
        if same is not None:
            return (
                Due(alarm, Why.OVER, same.times + 1) if not same.is_over and self._end_may_speak(matter, same) else None
            )
        may = self.digest or (matter.end_matters and not self.hours.is_night(self.now))
        if not may or alarm.acknowledged_at is not None or alarm.raised_at is None or alarm.cleared_at is None:
            return None
        fresh = self.now - alarm.cleared_at < NEWS and alarm.cleared_at >= self.status.since
        lasted = alarm.cleared_at - alarm.raised_at >= WORTH_TELLING
        return Due(alarm, Why.PASSED) if fresh and lasted else None

    def _end_may_speak(self, matter: Matter, same: Told) -> bool:
        """It wakes only whom its beginning woke; of what was told some days ago the end is told in the digest."""
        if self.hours.is_night(self.now):
            return self.hours.same_night(same.at, self.now)
        return self.digest or matter.end_matters or matter.pace is Speaks.ANY_HOUR or self.now - same.at < JUST_TOLD
