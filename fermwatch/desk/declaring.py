"""A rest, a ramp or a crash that is meant: `fermwatch note left rest --target 17C --until 3d`. It is the range while it
lasts; what speaks against it is told before it is stored.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.brewing.attenuation import expected
from fermwatch.contracts.store import Reader
from fermwatch.desk import heard, warm_sample
from fermwatch.errors import InputError
from fermwatch.model.amounts import instant, temperature, temperature_range, typed_temperature, volume
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.event_data import STANDS_AT, STANDS_FOR
from fermwatch.model.finding import Phase
from fermwatch.model.intent import (
    CRASH_C,
    FINISHED,
    TOLERANCE_C,
    Meant,
    course_of,
    meant_by,
    warmed_at,
    warmest_rest_c,
)
from fermwatch.model.judgement import Judgement
from fermwatch.model.quantity import Quantity
from fermwatch.saying.measured import judged_rate

Data = dict[str, float | str | bool]

HOPS_NEED = timedelta(days=5)  # warm, from the last addition: what hops set free ferments first (common practice)
JUST_NOW = timedelta(hours=1)
FURTHEST = timedelta(days=60)
REST_FROM = 0.5  # of the expected attenuation: earlier, warmth makes fusel alcohol (common practice)
QUESTIONS = {"looks-like-rest", "looks-like-crash"}

DIACETYL_TEST = (
    f"Warm-sample test: put half of a sample, loosely covered, into a water bath of {temperature(60, None)} for 20 to "
    "30 minutes (hot liquid: mind your hands, never seal it), leave the other half cool. Cool both to the same "
    "temperature and smell them side by side. If only the warmed one smells of butter or butterscotch, the "
    "beer needs more time, warm."
)


@dataclass(frozen=True, slots=True)
class Declared:
    """A rest, ramp or crash as somebody means it; of BACK_TO_RANGE, nothing but that. target_c: of a crash, 2 °C."""

    kind: EventKind
    target_c: float | None = None
    by: datetime | None = None
    until: datetime | None = None


def data_of(reader: Reader, batch: Batch, declared: Declared, at: datetime, now: datetime) -> Data:
    """What was said, as the event holds it. InputError where something is missing or cannot be meant."""
    kind, by, until = declared.kind, declared.by, declared.until
    if kind is EventKind.BACK_TO_RANGE:
        _check_something_is_meant(reader, batch, now)
        return {}
    if kind is EventKind.RAMP and by is None and until is None:
        raise InputError("When should it be there?", hint="Add --by 3d, --by 2026-03-12 or --until 5d.")
    if by is not None and kind is not EventKind.RAMP:
        raise InputError(f"--by belongs to a ramp; a {kind} ends with --until.")
    for name, end in (("--by", by), ("--until", until)):
        if end is not None and (end <= now or end - at > FURTHEST):
            raise InputError(f"{name}: {instant(end)} {'has passed' if end <= now else 'is too far ahead'}.")
    if by is not None and until is not None and until < by:
        raise InputError("--until: it would be over before it is there.", hint="--by comes first, then --until.")
    target_c = CRASH_C if declared.target_c is None and kind is EventKind.CRASH else declared.target_c
    if target_c is None:
        raise InputError("At what temperature?", hint=f"Add --target {typed_temperature(17)}.")
    data: Data = {"target_c": round(target_c, 2)}
    here_c = heard.newest(reader, batch.vessel, Quantity.BEER_TEMPERATURE, now)
    if here_c is not None and now - at < JUST_NOW:
        data["from_c"] = round(here_c, 2)
    data |= {name: when.isoformat() for name, when in (("by", by), ("until", until)) if when is not None}
    return data


def _check_something_is_meant(reader: Reader, batch: Batch, now: datetime) -> None:
    alarms = reader.alarms()
    asked = any(alarm.stands and alarm.rule in QUESTIONS for alarm in alarms if alarm.subject.endswith(batch.vessel))
    events = reader.events(batch.id, strict=False)
    if not asked and course_of(events, now, warmed_at(alarms, batch.vessel)).meant is None:
        raise InputError(f"No rest, ramp or crash of {batch.name} is in force: the yeast's range holds already.")


def doubts(reader: Reader, batch: Batch, event: Event) -> Iterator[str]:
    """What speaks against it: fresh hops or unfinished beer made cold, a rest that is too hot or too early."""
    meant = meant_by(event)
    if meant is None:
        return
    judgement, events = reader.judgement(batch.id), reader.events(batch.id, strict=False)
    if meant.target_c < batch.yeast.temperature_low_c:
        yield from _against_cold(judgement, events, event.at)
    elif meant.target_c > batch.yeast.temperature_high_c:
        yield from _against_warmth(judgement, batch, meant.target_c)


def _against_cold(judgement: Judgement | None, events: tuple[Event, ...], at: datetime) -> Iterator[str]:
    hops = _last(events, EventKind.DRY_HOP)
    if hops is not None and at - hops.at < HOPS_NEED:
        days = round((at - hops.at) / timedelta(days=1))
        ago = "yesterday" if days == 1 else f"{days} days ago" if days else "today"
        yield (
            f"Dry hops went in {ago}: what they set free needs at least {HOPS_NEED.days} warm days to ferment, or it "
            "ferments in the bottle."
        )
    phase = judgement.phase.phase if judgement is not None and judgement.phase is not None else None
    if phase not in FINISHED:
        yield f"{_progress(judgement, phase)}. Cold only stops the yeast; the sugar stays."
    if warm_sample.failed(events) is not None:
        yield "The last warm-sample test failed: cold yeast clears no diacetyl. Give it days, warm, and test again."


def _against_warmth(judgement: Judgement | None, batch: Batch, target_c: float) -> Iterator[str]:
    yeast = batch.yeast
    most_c = warmest_rest_c(yeast)
    if target_c > most_c:
        yield f"{temperature(target_c)} is warmer than a rest of this yeast goes: {temperature(most_c)} at the most."
    trend = judgement.trend if judgement is not None else None
    middle = expected(batch).middle
    if trend is not None and trend.apparent_attenuation < REST_FROM * middle:
        yield (
            f"Only {max(trend.apparent_attenuation, 0.0):.0%} of about {middle:.0%} is attenuated: warmth this early "
            "makes fusel alcohol."
        )


def _progress(judgement: Judgement | None, phase: Phase | None) -> str:
    if judgement is None or judgement.trend is None or phase is None:
        return "Nothing shows that it has finished"
    trend = judgement.trend
    moves = judged_rate(judgement)
    moves = f", {moves}" if moves else ""
    return f"It has not finished: {phase.replace('-', ' ')}, {trend.apparent_attenuation:.0%} attenuated{moves}"


def cautions(reader: Reader, batch: Batch, event: Event, now: datetime) -> Iterator[str]:
    """What to do or to know with it."""
    meant = course_of((*reader.events(batch.id, strict=False), event), max(now, event.at)).meant
    if meant is None or meant.id != event.id:
        return
    if meant.target_c < batch.yeast.temperature_low_c:
        told_c = _told_c(reader.events(batch.id, strict=False), event.at)
        yield _suck_back(batch, told_c if meant.from_c is None else meant.from_c, meant.target_c)
        yield from _diacetyl(batch, reader.events(batch.id, strict=False))
    if meant.kind is EventKind.CRASH:
        yield f"Until it is warmed again, cold is no alarm down to {temperature(meant.target_c - TOLERANCE_C)}."
    else:
        yield from _promise(meant, batch, now)


def _promise(meant: Meant, batch: Batch, now: datetime) -> Iterator[str]:
    """What its range is from now on, which is what the rules go by."""
    there, way = meant.band(batch.yeast, meant.there_by), meant.band(batch.yeast, now)
    said = f"While it lasts, {temperature_range(there.low_c, there.high_c)} is its range"
    if way != there:
        edges = temperature_range(way.low_c, way.high_c)
        said += f", and {edges} on its way there, until {instant(meant.there_by)}"
    yield f"{said}; outside of that is still an alarm. To end it early: fermwatch note {batch.vessel} back-to-range"
    if meant.from_c is not None and (side := way.side(meant.from_c)) is not None:
        yield f"At {temperature(meant.from_c)} it is {side} that now, and stays an alarm until it is not."


def _suck_back(batch: Batch, from_c: float | None, target_c: float) -> str:
    """A gas shrinks with its absolute temperature (Gay-Lussac): 5 L from 20 to 2 °C by 0.3 L."""
    known, warm_c = batch.fermenter_volume_l, from_c if from_c is not None else batch.yeast.temperature_high_c
    warm = temperature(warm_c, 0)
    start = warm if from_c is not None else f"the top of its yeast's range, {warm},"
    headspace_l = 5.0 if known is None or known <= batch.volume_l else known - batch.volume_l
    shrinks_l = headspace_l * max(warm_c - target_c, 0.0) / (warm_c + 273.15)
    return (
        f"Cooling beer draws air in: {volume(headspace_l, 1)} of headspace shrinks by {volume(shrinks_l, 1)} from "
        f"{start} to {temperature(target_c, 0)}, and the beer takes up CO2 besides. Put "
        "a balloon or CO2 on the airlock; take liquid out of it first."
    )


def _told_c(events: tuple[Event, ...], at: datetime) -> float | None:
    """How warm somebody said that it stands, where that still holds."""
    said = [one for one in events if one.data.get("what") == STANDS_AT and not one.voided and one.at <= at]
    last = max(said, key=lambda one: one.at, default=None)
    told_c = None if last is None or at - last.at > STANDS_FOR else last.data.get("temperature_c")
    return float(told_c) if isinstance(told_c, int | float) else None


def _diacetyl(batch: Batch, events: tuple[Event, ...]) -> Iterator[str]:
    """Lager and dry-hopped beer are tested while they are warm; a test that passed after the hops is enough."""
    hops, test = _last(events, EventKind.DRY_HOP), _last(events, EventKind.DIACETYL_TEST)
    passed = test is not None and bool(test.data.get("passed")) and (hops is None or test.at > hops.at)
    if (batch.yeast.bottom_fermenting or hops is not None) and not passed:
        yield f"Before it is cold: {DIACETYL_TEST} Then: fermwatch note {batch.vessel} diacetyl-test --passed"


def _last(events: tuple[Event, ...], kind: EventKind) -> Event | None:
    done = [event for event in events if event.kind is kind and not event.voided]
    return max(done, key=lambda event: event.at, default=None)
