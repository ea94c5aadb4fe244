"""The keeper of alarms: the decider, and what of it the store still lacks."""

import logging
from collections.abc import Sequence
from datetime import datetime, timedelta

from fermwatch.contracts.store import JournalEntry, Writer
from fermwatch.model.amounts import plain
from fermwatch.model.finding import Alarm
from fermwatch.model.subject import About, kind_of
from fermwatch.rules.situation import Key
from fermwatch.watching.deciding import AlarmChange, Decider

log = logging.getLogger("fermwatch")


class Keeper:
    """Keeps alarms and journal. What a full disk refuses is kept in mind and stored with the next change."""

    def __init__(self, store: Writer) -> None:
        self._store = store
        self.decider = Decider()
        self._unsaved_alarms: dict[Key, Alarm] = {}
        self._unsaved_entries: list[JournalEntry] = []
        self.reload()

    def reload(self) -> None:
        """The alarms as the store has them, which a request may have changed."""
        with self._store.at_one_instant():
            self.decider = Decider(alarms=self._store.alarms())
            for one in self._store.misread():
                log.error("%s; it is decided upon anew", one.text)

    def keep(self, changes: Sequence[AlarmChange] = ()) -> None:
        """Store what changed, with all that could not be stored before."""
        entries = [
            JournalEntry(change.at, "alarm", change.alarm.subject, _told(change))
            for change in changes
            if change.transitions
        ]
        for entry in entries:
            log.warning("%s: %s", entry.subject, plain(entry.text))
        self._unsaved_alarms |= {(change.alarm.rule, change.alarm.subject): change.alarm for change in changes}
        self._unsaved_entries += entries
        if self._unsaved_alarms or self._unsaved_entries:
            alarms = tuple(self._unsaved_alarms.values())
            self._store.save_alarms(alarms, self._unsaved_entries)
            self._unsaved_alarms, self._unsaved_entries = {}, []

    def enter(self, entry: JournalEntry) -> None:
        """Into the log, and into the journal with the next change."""
        log.warning("%s: %s", entry.subject, plain(entry.text))
        self._unsaved_entries.append(entry)

    def move(self, by: timedelta, now: datetime) -> None:
        """Deciding time was moved: no timer runs out by that."""
        self.keep(self.decider.shift(by, now))

    def retire(self, subject: str, now: datetime) -> None:
        self.keep(self.decider.retire(subject, now))

    def retire_what_is_no_more(self, there: set[str], kinds: set[About], now: datetime) -> None:
        """End alarms about subjects of these kinds (`probe`) that are not there any more."""
        for subject in {alarm.subject for alarm in self.decider.alarms.values()} - there:
            if kind_of(subject) in kinds:
                self.retire(subject, now)

    def forget_long_gone(self, now: datetime) -> None:
        """Rows of alarms that ended long ago leave the store; their story is in the journal."""
        gone = self.decider.forget_long_gone(now)
        if gone:
            self._store.forget_alarms(gone)


def _told(change: AlarmChange) -> str:
    alarm = change.alarm
    what = ", ".join(change.transitions)
    return f"{alarm.rule} {what} ({alarm.severity}): {alarm.statement}"
