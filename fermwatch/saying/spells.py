"""When a beer was outside of where it should be, by its curve: since when, how far, what was done, what came of it."""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.contracts.feed import Curves, Lane
from fermwatch.contracts.store import Bucket
from fermwatch.model.amounts import warmth
from fermwatch.model.batch import Event
from fermwatch.model.finding import Phase
from fermwatch.model.intent import NOTHING_DECLARED, Band, Side, band_of, course_of, meant_by, outside
from fermwatch.saying import words
from fermwatch.saying.happened import act_words
from fermwatch.saying.voice import Voice

SHORTEST = timedelta(hours=1)  # less than this outside is a wander about the edge
JOINED = timedelta(hours=2)  # two spells with less between them are one
TOLD_AFTER = timedelta(hours=6)  # how long after an act its change is looked at
ACTS = 2


@dataclass(frozen=True, slots=True)
class Spell:
    """ended: None while it is still outside. worst: the bucket furthest outside."""

    side: Side
    band: Band
    began: datetime
    last: datetime
    worst: Bucket
    ended: datetime | None = None


def band_then(lane: Lane, at: datetime, now: datetime) -> Band | None:
    """Where the beer should have been, or should be, at an instant."""
    if lane.batch is None or at < lane.batch.pitched_at:
        return None
    course = lane.course if at == now else course_of(lane.events, at)
    over, over_at = lane.course.over, lane.course.over_at
    if over is not None and over_at is not None and at >= over_at and course.meant is not None:
        course = NOTHING_DECLARED if course.meant.id == over.id else course  # as a crash ends that has warmed up
    return band_of(lane.batch.yeast, course, at)


def bands_at(lane: Lane, times: Iterable[datetime], now: datetime) -> Iterator[Band | None]:
    """The same for many instants in time order: what was declared is looked through once for each stretch between."""
    changes = {at for one in lane.events if not one.voided for at in _changes(one)}
    ends = sorted(changes | ({lane.course.over_at} if lane.course.over_at is not None else set()))
    passed, band = -1, None
    for at in times:
        place = bisect_right(ends, at)
        if place != passed or band is None:
            passed, band = place, band_then(lane, at, now)
        yield band


def _changes(event: Event) -> Iterator[datetime]:
    """When the range may be another one by this event."""
    yield event.at
    meant = meant_by(event)
    if meant is not None:
        yield meant.there_by
        if meant.until is not None:
            yield meant.until


def spells(lane: Lane, curves: Curves, now: datetime) -> tuple[Spell, ...]:
    found: list[Spell] = []
    for bucket, band, side in _outside(lane, curves.beer, now):
        last = found[-1] if found else None
        if last is not None and last.ended is None and side is not last.side:
            found[-1] = last = _closed(last, bucket.at)
        if side is None:
            continue
        if last is not None and last.side is side and bucket.at - last.last <= JOINED:
            worst = max(last.worst, bucket, key=lambda one: band.beyond_c(side, one.mean))
            found[-1] = Spell(side, last.band, last.began, bucket.at, worst)
        else:
            found.append(Spell(side, band, bucket.at, bucket.at, bucket))
    left_at = None if lane.batch is None else lane.batch.left_fermenter_at
    if found and found[-1].ended is None and left_at is not None:
        found[-1] = _closed(found[-1], left_at)
    return tuple(one for one in found if (one.ended or now) - one.began >= SHORTEST)


def _closed(spell: Spell, at: datetime) -> Spell:
    return Spell(spell.side, spell.band, spell.began, spell.last, spell.worst, at)


def _outside(lane: Lane, beer: Sequence[Bucket], now: datetime) -> Iterator[tuple[Bucket, Band, Side | None]]:
    stated = lane.judgement.phase if lane.judgement is not None else None
    for bucket, band in zip(beer, bands_at(lane, (one.at for one in beer), now), strict=True):
        if band is None:
            continue
        phase: Phase | None = stated.phase if stated is not None and bucket.at >= stated.since else None
        yield bucket, band, outside(bucket.mean, band, phase)


def spell_words(spell: Spell, lane: Lane, beer: Sequence[Bucket], now: datetime, voice: Voice) -> str:
    """Since when, how long, how far; then each act within it with what it changed."""
    where = (
        f"{spell.side.capitalize()} {spell.band.name} {voice.temperature_range(spell.band.low_c, spell.band.high_c)}"
    )
    lasted = words.age(((spell.ended or now) - spell.began).total_seconds())
    until = f"until {_when(spell.ended, now, voice)}, for {lasted}" if spell.ended else f"for {lasted} and still so"
    extreme = "warmest" if spell.side is Side.ABOVE else "coldest"
    worst = f"{extreme} {voice.temperature(spell.worst.mean)} {_when(spell.worst.at, now, voice)}"
    said = f"{where} from {_when(spell.began, now, voice)} {until}; {worst}."
    acts = [one for one in lane.events if not one.voided and spell.began <= one.at <= (spell.ended or now)]
    told = [f"{act_words(one, now, voice)}, {_when(one.at, now, voice)}{_change(one, beer, voice)}" for one in acts]
    return f"{said} Done meanwhile: {'; '.join(told[:ACTS])}." if told else f"{said} Nothing is noted of what was done."


def _when(at: datetime, now: datetime, voice: Voice) -> str:
    return words.moment(at, now, voice).removeprefix("on ")


def _change(act: Event, beer: Sequence[Bucket], voice: Voice) -> str:
    """How far the beer moved in the hours after."""
    before = [one for one in beer if one.at <= act.at]
    after = [one for one in beer if act.at < one.at <= act.at + TOLD_AFTER]
    if not before or not after or act.at - before[-1].at > TOLD_AFTER:
        return ""
    moved = after[-1].mean - before[-1].mean
    way = "warmer" if moved > 0 else "cooler"
    hours = words.age((after[-1].at - act.at).total_seconds())
    said = f"{warmth(abs(moved))} {way} {hours} later" if abs(moved) >= 0.1 else f"no warmer or cooler {hours} later"
    return voice.text(f": {said}")
