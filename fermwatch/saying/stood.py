"""How long alarms stood, as the journal tells, which keeps them all."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fermwatch.contracts.store import JournalEntry
from fermwatch.saying.marks import ENTRY


@dataclass(frozen=True, slots=True)
class Standing:
    """One occurrence of an alarm. said: as it was raised. over_at: None while it stands."""

    rule: str
    subject: str
    severity: str
    raised_at: datetime
    said: str
    over_at: datetime | None = None

    def lasted(self, now: datetime) -> timedelta:
        return (self.over_at or now) - self.raised_at


def standings(entries: Iterable[JournalEntry]) -> tuple[Standing, ...]:
    """In the order in which they were raised. entries: of the journal, in any order."""
    found: list[Standing] = []
    open_: dict[tuple[str, str], int] = {}
    for entry in sorted(entries, key=lambda one: one.at):
        match = ENTRY.fullmatch(entry.text)
        if match is None:
            continue
        key, what = (match["rule"], entry.subject), match["what"].split(", ")
        if "raised" in what:
            open_[key] = len(found)
            found.append(Standing(match["rule"], entry.subject, match["severity"], entry.at, match["said"]))
        elif "escalated" in what and key in open_:
            found[open_[key]] = replace(found[open_[key]], severity=match["severity"], said=match["said"])
        if "cleared" in what and key in open_:
            place = open_.pop(key)
            found[place] = replace(found[place], over_at=entry.at)
    return tuple(found)
