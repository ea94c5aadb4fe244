"""The alarms of a site in the order that a person asks for them: what needs somebody, what was seen, what is quiet."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from operator import attrgetter

from fermwatch.contracts.feed import Snapshot
from fermwatch.contracts.store import JournalEntry
from fermwatch.model.finding import Alarm
from fermwatch.model.quantity import Quantity
from fermwatch.model.subject import About, kind_of, name_of
from fermwatch.saying import words
from fermwatch.saying.voice import Voice

LONGEST_NAME = 40


class AlarmGroup(Enum):
    """Where an alarm stands with people, as a title over all that do."""

    NEEDS = "Needs you"
    SEEN = "Seen, and still so"
    OVER = "Over, and not seen"
    QUIET = "Quiet on purpose"


NONE_STANDS = "No alarm stands, and none waits to be seen."


@dataclass(frozen=True, slots=True)
class Listed:
    standing: AlarmGroup
    alarms: tuple[Alarm, ...]


def listed(alarms: Sequence[Alarm], now: datetime) -> tuple[Listed, ...]:
    """One cause once, and nothing that is over and was seen; each group by its urgency, empty ones left out."""
    groups: dict[AlarmGroup, list[Alarm]] = {standing: [] for standing in AlarmGroup}
    for alarm in sorted(alarms, key=attrgetter("urgency")):
        standing = _standing(alarm, now)
        if standing is not None:
            groups[standing].append(alarm)
    return tuple(Listed(standing, tuple(found)) for standing, found in groups.items() if found)


def _standing(alarm: Alarm, now: datetime) -> AlarmGroup | None:
    if alarm.stands_quietly or (alarm.kept_quiet and not alarm.stands):
        return AlarmGroup.QUIET
    if alarm.needs_attention:
        return AlarmGroup.NEEDS
    if alarm.stands and not alarm.is_quiet:
        return AlarmGroup.SEEN
    return AlarmGroup.OVER if alarm.lingers(now) else None


def where(subject: str, snapshot: Snapshot, voice: Voice) -> str:
    """What an alarm is about, by the name that a person gave it: Left; Left, gravity; Slow Stairs Bitter; board."""
    kind, name = kind_of(subject), name_of(subject)
    for lane in snapshot.lanes:
        called = voice.text(lane.vessel.name or lane.vessel.slug, LONGEST_NAME)
        if kind == About.FERMENTER and name == lane.vessel.slug:
            return called
        if kind == About.BATCH and lane.batch is not None and name == lane.batch.id:
            return called
        for view in lane.probes:
            if kind == About.PROBE and name == view.probe.slug:
                return f"{called}, {_quantity(view.probe.quantity)}"
    for one in snapshot.in_package:
        if kind == About.BATCH and name == one.batch.id:
            return voice.text(one.batch.name, LONGEST_NAME)
    return "the site" if kind == About.SITE else voice.text(name or subject, LONGEST_NAME)


def _quantity(quantity: Quantity) -> str:
    return words.QUANTITY_WORDS[quantity]


def brief(alarm: Alarm, voice: Voice) -> str:
    """too warm; what has no words of its own by its rule."""
    return _brief(alarm.rule, voice)


def _brief(rule: str, voice: Voice) -> str:
    return words.RULE_WORDS.get(rule) or voice.text(rule.replace("-", " "), LONGEST_NAME)


def history(alarm: Alarm, now: datetime, voice: Voice) -> str:
    """By what rule, how often, and by whom it was seen."""
    parts = [f"rule {voice.text(alarm.rule, LONGEST_NAME)}"]
    if alarm.occurrence > 1:
        parts.append(f"raised {alarm.occurrence} times")
    if alarm.acknowledged_at is not None:
        by = voice.text(alarm.acknowledged_by, 20) or "somebody"
        parts.append(f"seen by {by} {words.moment(alarm.acknowledged_at, now, voice)}")
    return ", ".join(parts)


def same(alarm: Alarm, name: tuple[str, str]) -> bool:
    return (alarm.rule, alarm.subject) == name


def all_of(groups: Iterable[Listed]) -> list[Alarm]:
    """In the order that they are listed."""
    return [alarm for group in groups for alarm in group.alarms]


_ENTRY = re.compile(r"(?P<rule>\S+) (?P<what>[a-z, ]+) \((?P<severity>\w+)\)")
_BECAME = {
    "raised": "{} ({})",
    "escalated": "{}, graver now ({})",
    "no longer quiet": "{}, no longer quiet ({})",
    "cleared": "{}, over",
    "stale": "{}, by what was last heard alone",
    "fresh": "{}, heard again",
}


def entry_words(entry: JournalEntry, voice: Voice) -> str:
    """too warm, graver now (critical): what stands says its numbers itself, and what is over has none that matter."""
    told = _ENTRY.match(entry.text)
    became = None if told is None else _BECAME.get(told["what"])
    if told is None or became is None:
        return voice.text(entry.text)
    return became.format(_brief(told["rule"], voice), voice.text(told["severity"]))
