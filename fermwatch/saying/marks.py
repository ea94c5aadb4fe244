"""What happened to a beer, as marks on its time axis, each with its sentence."""

import re
from collections.abc import Container, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import Enum

from fermwatch.contracts.feed import Curves, Lane
from fermwatch.contracts.store import JournalEntry
from fermwatch.model.amounts import volume
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.finding import Alarm
from fermwatch.model.intent import DECLARED
from fermwatch.model.subject import about_fermenter
from fermwatch.saying import words
from fermwatch.saying.fan import Fan, fan_of
from fermwatch.saying.happened import act_words, measurement_words
from fermwatch.saying.ink import Ink
from fermwatch.saying.set_to import change_words, changes
from fermwatch.saying.spells import spell_words, spells
from fermwatch.saying.voice import Voice

ENTRY = re.compile(r"(?P<rule>\S+) (?P<what>[a-z, ]+) \((?P<severity>\w+)\): (?P<said>.*)", re.DOTALL)
_SAME = timedelta(minutes=2)  # an alarm and its line in the journal
BY_PLAN = timedelta(hours=1)  # a set point that follows a step within it
_TOLD = {"raised": "Alarm", "escalated": "Graver now", "cleared": "Over"}
_ADDED = {
    EventKind.DRY_HOP,
    EventKind.SUGAR,
    EventKind.FRUIT,
    EventKind.BLEND,
    EventKind.TRANSFER,
    EventKind.SPLIT,
}


class Sign(Enum):
    """What a mark is, by the letter it stands as in every terminal, and what that means."""

    PITCHED = "P", "pitched"
    MEASURED = "M", "measured by hand"
    ADDED = "A", "something added, or beer moved"
    DECLARED = "R", "a rest, ramp or crash, its end, a plan's step"
    NOTED = "N", "a note, an observation or a test"
    SET = "S", "the controller's set point was changed"
    OUTSIDE = "O", "left the range that it should be in"
    ALARM = "!", "an alarm was raised, seen or over"
    PHASE = "F", "the present phase began"
    DONE = "E", "fermentation is most likely done"

    def __init__(self, letter: str, meaning: str) -> None:
        self.letter, self.meaning = letter, meaning


@dataclass(frozen=True, slots=True)
class Mark:
    at: datetime
    sign: Sign
    sentence: str
    ink: Ink = Ink.PLAIN


def marks(lane: Lane, curves: Curves, journal: Sequence[JournalEntry], now: datetime, voice: Voice) -> tuple[Mark, ...]:
    """In time order; of the beer that is in the fermenter alone."""
    if lane.batch is None:
        return ()
    pitched_at = lane.batch.pitched_at
    found = [
        *_of_batch(lane, voice),
        *(
            Mark(one.at, _sign(one), f"{_capital(act_words(one, now, voice))}.")
            for one in lane.events
            if not one.voided
        ),
        *(
            Mark(one.began, Sign.OUTSIDE, spell_words(one, lane, curves.beer, now, voice))
            for one in spells(lane, curves, now)
        ),
        *_of_set_point(lane, curves, voice),
        *_of_alarms(lane.alarms, journal, subjects_of(lane), voice),
        *_of_judgement(lane, now, voice),
    ]
    return tuple(sorted((one for one in found if one.at >= pitched_at), key=lambda one: one.at))


def subjects_of(lane: Lane) -> frozenset[str]:
    """What the journal calls a fermenter, its probes and its beer."""
    probes = (view.probe.slug for view in lane.probes)
    return about_fermenter(lane.vessel.slug, probes, None if lane.batch is None else lane.batch.id)


def _of_batch(lane: Lane, voice: Voice) -> Iterator[Mark]:
    batch = lane.batch
    if batch is None:
        return
    pitched = f"Pitched at {voice.gravity(batch.original_sg)}, {volume(batch.volume_l)}, {batch.yeast.name}."
    yield Mark(batch.pitched_at, Sign.PITCHED, voice.text(pitched))
    for one in lane.measurements:
        if not one.voided:
            yield Mark(one.at, Sign.MEASURED, f"{measurement_words(one, voice)}.")


def _of_set_point(lane: Lane, curves: Curves, voice: Voice) -> Iterator[Mark]:
    """Changes that no step of a plan has told already."""
    steps = [one.at for one in lane.events if one.kind is EventKind.PLAN and not one.voided]
    for change in changes(curves.set_point):
        if not any(timedelta(0) <= change.began - at <= BY_PLAN for at in steps):
            yield Mark(change.began, Sign.SET, change_words(change, voice))


def _of_judgement(lane: Lane, now: datetime, voice: Voice) -> Iterator[Mark]:
    judgement = lane.judgement
    if judgement is None:
        return
    if judgement.phase is not None:
        reason = f": {judgement.phase.reason}" if judgement.phase.reason else ""
        yield Mark(
            judgement.phase.since,
            Sign.PHASE,
            voice.text(f"{_capital(words.PHASE_WORDS[judgement.phase.phase])} from then on{reason}."),
        )
    fan = fan_of(judgement)
    if fan is not None and fan.most.done_at is not None and fan.most.done_at > now:
        yield Mark(fan.most.done_at, Sign.DONE, _done(fan, now, voice))


def _done(fan: Fan, now: datetime, voice: Voice) -> str:
    spread = words.span_words(fan.low.done_at, fan.high.done_at, now)
    return f"By the forecast done by then{f' ({spread})' if spread else ''}, at {voice.gravity(fan.most.end_sg)}."


def _sign(event: Event) -> Sign:
    if event.kind in _ADDED:
        return Sign.ADDED
    return Sign.DECLARED if event.kind in DECLARED | {EventKind.BACK_TO_RANGE, EventKind.PLAN} else Sign.NOTED


def _of_alarms(
    alarms: Iterable[Alarm], journal: Sequence[JournalEntry], subjects: Container[str], voice: Voice
) -> Iterator[Mark]:
    """As the journal tells, which keeps them all; and what stands now, also before the journal was read."""
    told = [mark for entry in journal if entry.subject in subjects for mark in _of_entry(entry, voice)]
    yield from told
    known = [one.at for one in told]
    for alarm in alarms:
        name = _named(alarm.rule)
        for at, said in ((alarm.raised_at, f"Alarm, {name}: {alarm.statement}"), (alarm.cleared_at, f"Over: {name}.")):
            if at is not None and not any(abs(at - other) < _SAME for other in known):
                yield Mark(at, Sign.ALARM, voice.text(said), Ink.STRONG)
        if alarm.acknowledged_at is not None:
            by = alarm.acknowledged_by or "somebody"
            yield Mark(alarm.acknowledged_at, Sign.ALARM, voice.text(f"Seen by {by}: {name}."))


def _of_entry(entry: JournalEntry, voice: Voice) -> Iterator[Mark]:
    match = ENTRY.fullmatch(entry.text)
    if match is None:
        return
    what = match["what"].split(", ")[-1]
    if what in _TOLD:
        name = _named(match["rule"])
        said = f"{_TOLD[what]}: {name}." if what == "cleared" else f"{_TOLD[what]}, {name}: {match['said']}"
        yield Mark(entry.at, Sign.ALARM, voice.text(said), Ink.PLAIN if what == "cleared" else Ink.STRONG)


def _named(rule: str) -> str:
    return words.RULE_WORDS.get(rule, rule.replace("-", " "))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
