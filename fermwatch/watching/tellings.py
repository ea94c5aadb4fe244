"""What notifiers need of the store, in its thread: what is due to be told, and that it was.

What must be told follows from the alarms, and what each notifier told of them last: both are rows, so that nothing is
lost with the watcher, and what it was killed over is told again under the same id.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fermwatch.contracts.notifier import Notification
from fermwatch.contracts.store import Writer
from fermwatch.feed.picture import Picture
from fermwatch.model.finding import Alarm, Condition, Severity, VerdictKind
from fermwatch.model.rule_settings import DEFAULTS
from fermwatch.model.subject import About
from fermwatch.model.telling import NotifierStatus, Speaks, Told
from fermwatch.notify.due import Due, Key, Matter, due
from fermwatch.notify.hours import Hours
from fermwatch.notify.wording import message_of, trial_message
from fermwatch.rules.catalogue import rules
from fermwatch.rules.notifying import cannot_notify
from fermwatch.rules.unwatched import UNWATCHED
from fermwatch.saying.voice import CANONICAL, Units, Voice, zone_of
from fermwatch.saying.words import verdict_words
from fermwatch.watching.deciding import AlarmChange
from fermwatch.watching.judges import Judges
from fermwatch.watching.keeper import Keeper

SAFE_NOW = "may-be-packaged"  # what is told like an alarm: the verdict that everybody waits for
FAILING = timedelta(minutes=5)  # before that is a reason to give no sign of life
FORGOTTEN = timedelta(days=60)  # after that nobody asks any more what was told of something that is no more


@dataclass(frozen=True, slots=True)
class DueMessage:
    """A message that is due, and what it tells."""

    message: Notification
    due: tuple[Due, ...]


class Tellings:
    """Used in the store's thread alone."""

    def __init__(
        self, store: Writer, judges: Judges, keeper: Keeper, hours: Hours | None = None, units: Units = CANONICAL
    ) -> None:
        self._store, self._judges, self._keeper = store, judges, keeper
        self._hours, self._units = hours or Hours(), units
        self._statuses: dict[str, NotifierStatus] = {}
        self._told: dict[str, dict[Key, Told]] = {}

    def begin(self, now: datetime, notifiers: Mapping[str, str]) -> None:
        """notifiers: the name of each that is configured, and by what it tells."""
        self._store.forget_notifiers(notifiers)
        known = {one.name: one for one in self._store.notifiers()}
        self._told = {name: {} for name in notifiers}
        for word in self._store.told():
            self._told[word.notifier][word.rule, word.subject] = word
        for name, by in notifiers.items():
            status = known.get(name) or NotifierStatus(name, by, now)
            self._keep(replace(status, by=by))
        self._forget(now)

    def move(self, by: timedelta) -> None:
        """Deciding time was moved: no repetition falls due by that, and none is put off."""
        for name, words in self._told.items():
            self._told[name] = {key: replace(word, at=word.at + by) for key, word in words.items()}
            status = self._statuses[name]
            moved = replace(
                status,
                since=status.since + by,
                told_at=None if status.told_at is None else status.told_at + by,
                digest_at=None if status.digest_at is None else status.digest_at + by,
                failing_since=None if status.failing_since is None else status.failing_since + by,
            )
            self._keep(moved, *self._told[name].values())

    def next_of(self, name: str, now: datetime) -> DueMessage | None:
        """What one notifier is to tell now."""
        status, told = self._statuses[name], self._told[name]
        found = due(self._matters(told), told, status, now, self._hours)
        if not found:
            return self._trial(status, now)
        with self._store.at_one_instant():
            snapshot = Picture(self._store, now, held=True).snapshot()
        voice = Voice(self._units, zone=zone_of(snapshot.timezone))
        return DueMessage(message_of(found, replace(snapshot, now=now), now, voice), found)

    def _trial(self, status: NotifierStatus, now: datetime) -> DueMessage | None:
        """Where nothing is to be told: a test, whether one that failed works again, or one that was silent still does.

        Else the day's digest is done with.
        """
        last_digest = status.digest_at or status.since
        failed = status.failing_since is not None
        if failed or self._hours.test_is_due(status.told_at or status.since, last_digest, now):
            site, _ = self._store.site()
            return DueMessage(trial_message(site, status.name, now, after_trouble=failed), ())
        if self._hours.digest_is_due(last_digest, now):
            self._keep(replace(status, digest_at=now))
        return None

    def delivered(self, name: str, pending: DueMessage, now: datetime) -> None:
        """It was taken over: said so in one transaction with how the notifier does."""
        status = self._statuses[name]
        digest = self._hours.digest_is_due(status.digest_at or status.since, now)
        told = [one.told(name, pending.message.id, now) for one in pending.due]
        status = replace(
            status,
            told_at=now,
            digest_at=now if digest else status.digest_at,
            failing_since=None,
            detail="",
            waits=0,
        )
        self._keep(status, *told)
        self._told[name] |= {(one.rule, one.subject): one for one in told}

    def failed(self, name: str, pending: DueMessage, why: str, now: datetime) -> None:
        status = self._statuses[name]
        since = status.failing_since or now
        failing = replace(status, failing_since=since, detail=why, waits=len(pending.due))
        if failing != status:
            self._keep(failing)

    def decide(self, now: datetime) -> list[AlarmChange]:
        """What changes by notifiers that cannot tell: shown where somebody looks, and told by the others."""
        findings = [cannot_notify(one) for one in self._statuses.values()]
        there = {finding.subject for finding in findings}
        gone = {about for _, about in self._keeper.decider.alarms if about.startswith(f"{About.NOTIFIER}:")} - there
        changes = self._keeper.decider.absorb(findings, now)
        for subject in gone:
            changes += self._keeper.decider.retire(subject, now)
        return changes

    def failing(self, now: datetime) -> str:
        """Which have carried nothing for some minutes, in words; empty where all do."""
        names = [
            one.name
            for one in self._statuses.values()
            if one.failing_since is not None and now - one.failing_since >= FAILING
        ]
        return f"nobody can be told by {', '.join(names)}" if names else ""

    def _matters(self, told: Mapping[Key, Told]) -> Iterator[Matter]:
        catalogue = rules(DEFAULTS)
        for alarm in self._keeper.decider.alarms.values():
            rule = catalogue.get(alarm.rule)
            speaks = Speaks.MORNING if rule is None else rule.speaks
            yield Matter(alarm, speaks, end_matters=alarm.rule == UNWATCHED)
        yield from self._verdicts(told)

    def _verdicts(self, told: Mapping[Key, Told]) -> Iterator[Matter]:
        """That a beer may be packaged is told in the digest; that it may not after all, as soon as people are awake."""
        for following in self._judges.all:
            judgement, batch = following.judgement, following.batch
            if judgement is None or judgement.verdict is None or not batch.in_fermenter:
                continue
            verdict, subject = judgement.verdict, About.BATCH.of(batch.id)
            before = told.get((SAFE_NOW, subject))
            is_safe = verdict.kind is VerdictKind.SAFE
            if not is_safe and before is None:
                continue
            occurrence = 1 if before is None else before.occurrence + (is_safe and before.is_over)
            alarm = Alarm(
                SAFE_NOW,
                subject,
                Condition.RAISED if is_safe else Condition.NORMAL,
                Severity.ADVICE,
                since=judgement.at,
                raised_at=judgement.at if is_safe or before is None else before.at,
                cleared_at=None if is_safe else judgement.at,
                occurrence=occurrence,
                statement=verdict_words(verdict.kind),
                remedy=verdict.next_step,
            )
            yield Matter(alarm, Speaks.DIGEST, end_matters=True)

    def _keep(self, status: NotifierStatus, *told: Told) -> None:
        self._store.set_notifier(status, told)
        self._statuses[status.name] = status

    def _forget(self, now: datetime) -> None:
        alarms = self._keeper.decider.alarms
        old = {
            key
            for words in self._told.values()
            for key, word in words.items()
            if key not in alarms and now - word.at > FORGOTTEN
        }
        if old:
            self._store.forget_told(sorted(old))
            for words in self._told.values():
                for key in old:
                    words.pop(key, None)


def cannot_tell(tellings: Tellings, now: datetime) -> str:
    """Which notifier has carried nothing for some minutes; empty where all do."""
    return tellings.failing(now)
