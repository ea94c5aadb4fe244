"""What the page of a beer that is to be packaged says, from what is judged and reckoned of it."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from fermwatch.contracts.feed import InPackage, Lane
from fermwatch.contracts.filling import Ground
from fermwatch.desk import packing_words
from fermwatch.desk.choosing import Dial, Tried
from fermwatch.desk.packaging import Day, Wanted, filled, odd, to_measure_first, too_much
from fermwatch.desk.residual import Held
from fermwatch.drawing.bottling import BottlingStory, Pressures, SheetRow, Turnable
from fermwatch.errors import FermwatchError
from fermwatch.judgement.filling import ONCE_FINISHED, is_keg
from fermwatch.model import amounts
from fermwatch.model.batch import Batch
from fermwatch.model.judgement import Judgement, Verdict
from fermwatch.saying import in_package, words
from fermwatch.saying.asked_for import points_of
from fermwatch.saying.ink import Ink
from fermwatch.saying.judged import further_reasons, verdict_ink
from fermwatch.saying.voice import Voice
from fermwatch.science.packages import PACKAGES

LONG = 2000  # characters
HOW_WARM = (
    f"How warm was the beer at its warmest since fermentation was active? Turn `{Dial.BEER_WARMTH.value}` to that: "
    "not to today's temperature, for a warm rest drives CO2 out for good."
)
JUDGING = (SheetRow("", "Being judged for this package.", Ink.FAINT),)


@dataclass(frozen=True, slots=True)
class Reckoned:
    """What becomes of a batch in the package that is tried. day: None while it is being reckoned, or why it cannot be;
    finished: once the beer has finished, where it would be too full now."""

    batch: Batch
    day: Day | str | None = None
    finished: Day | None = None


def reckoned(batch: Batch, ground: Ground, tried: Tried) -> Reckoned:
    day = day_of(ground, tried)
    return Reckoned(batch, day, once_finished(ground, tried, day))


def day_of(ground: Ground, tried: Tried) -> Day | str:
    """The packaging day as it is tried; in words why there is none."""
    held = Held(warmest_c=tried.beer_warmest_c)
    if held.warmest_c is None and Dial.BEER_WARMTH in dials(ground, tried):
        return HOW_WARM
    try:
        return filled(ground, Wanted(choice=tried.choice, volume_l=tried.volume_l, held=held))
    except FermwatchError as error:
        return f"{error.message} {error.hint}".strip()


def dials(ground: Ground | None, tried: Tried) -> tuple[Dial, ...]:
    """What can be turned: how warm the beer was only where nothing tells."""
    unknown = ground is not None and ground.residual is None and not tried.choice.forced
    return (Dial.KIND, Dial.VOLUMES, Dial.WARMEST, Dial.BEER, *((Dial.BEER_WARMTH,) if unknown else ()))


def to_fill(
    lane: Lane, judged: Judgement | None, reckoned: Reckoned, tried: Tried, voice: Voice, now: datetime
) -> BottlingStory:
    """Of a beer in its fermenter, without what can be turned."""
    batch, day = reckoned.batch, reckoned.day
    verdict = None if judged is None else judged.verdict
    about = voice.dot.join((voice.text(batch.name), words.beer_day(batch.pitched_at, now, voice)))
    return BottlingStory(
        voice.text(lane.vessel.name or lane.vessel.slug),
        about,
        tuple(_said(batch, judged, verdict, tried, voice, now)),
        () if verdict is None else tuple(points_of(verdict, voice)),
        pressures=_pressures(day),
        reckoned=tuple(_reckoned(day, reckoned.finished, voice)),
        cautions=tuple(_cautions(reckoned.finished or day, voice)),
    )


def _said(
    batch: Batch, judged: Judgement | None, verdict: Verdict | None, tried: Tried, voice: Voice, now: datetime
) -> Iterator[SheetRow]:
    """The verdict, the one next step with its time, and what else there is to do."""
    if verdict is None:
        verb = "keg" if is_keg(tried.choice) else "bottle"
        yield SheetRow("", voice.text(f"Not ready to {verb}: {to_measure_first(batch)}.", LONG))
        return
    sentence = voice.text(verdict.sentence) or words.verdict_words(verdict.kind, keg=is_keg(tried.choice))
    ink = verdict_ink(judged)
    yield SheetRow("", f"{sentence[:1].upper()}{sentence[1:]}", Ink.STRONG if ink is Ink.PLAIN else ink)
    for reason in further_reasons(verdict, voice):
        yield SheetRow("", f"{reason[:1].upper()}{reason[1:]}{'' if reason.endswith('.') else '.'}")
    if verdict.next_step:
        yield SheetRow("next", _step(verdict, voice, now))
    if verdict.next_beside:
        yield SheetRow("meanwhile" if verdict.next_step else "next", voice.text(verdict.next_beside))


def _step(verdict: Verdict, voice: Voice, now: datetime) -> str:
    """When, where that is to come, and what is to be done then."""
    step = f"{voice.text(verdict.next_step).rstrip('.')}."
    if verdict.next_at is None or verdict.next_at <= now:
        return step
    return f"{words.moment(verdict.next_at, now, voice)} ({words.ahead(verdict.next_at, now)}): {step}"


def turnables(tried: Tried, batch: Batch, there: tuple[Dial, ...], here: Dial, voice: Voice) -> tuple[Turnable, ...]:
    choice = tried.choice
    kind = PACKAGES.get(choice.kind)
    name = voice.text(choice.kind) if kind is None else kind.name
    way = {None: "", True: ", CO2 from a cylinder", False: ", primed with sugar"}[
        None if choice.way is None else choice.forced
    ]
    volume_l = batch.volume_l if tried.volume_l is None else tried.volume_l
    stands = "under its pressure" if choice.forced else "the warmest that it will stand"
    known = tried.beer_warmest_c
    warmth = "not said: how warm at most, since it was active?" if known is None else amounts.temperature(known, None)
    texts = {
        Dial.KIND: f"{name}{way}",
        Dial.VOLUMES: f"{choice.volumes:.1f} volumes",
        Dial.WARMEST: f"{amounts.temperature(choice.storage_c, None)}, {stands}",
        Dial.BEER: amounts.volume(volume_l),
        Dial.BEER_WARMTH: warmth if known is None else f"{warmth} at its warmest, since it was active",
    }
    return tuple(Turnable(dial.value, voice.text(texts[dial]), dial is here) for dial in there)


def _reckoned(day: Day | str | None, finished: Day | None, voice: Voice) -> Iterator[SheetRow]:
    """finished: the same once the beer has finished, where it would be too full now."""
    if day is None:
        yield SheetRow("", "Being reckoned.", Ink.FAINT)
    elif isinstance(day, str):
        yield SheetRow("!", voice.text(day, LONG), Ink.WARNING)
    else:
        hard = f"{packing_words.climbs(day)}; {packing_words.over_limit(day, voice)}."
        yield SheetRow("now" if day.is_too_full else "", voice.text(hard, LONG))
        if day.is_too_full:
            yield SheetRow("!", voice.text(too_much(day), LONG), Ink.WARNING)
        yield from _filled_with(day, voice)
        if finished is not None:
            yield SheetRow("once done", voice.text(f"{packing_words.climbs(finished)}.", LONG))
            yield from _filled_with(finished, voice)


def _filled_with(day: Day, voice: Voice) -> Iterator[SheetRow]:
    if day.is_too_full:
        return
    if day.filling.set_bar is not None:
        yield SheetRow("set", voice.text(packing_words.set_to(day), LONG))
    else:
        yield SheetRow("sugar", voice.text(packing_words.sugar(day), LONG))


def once_finished(ground: Ground, tried: Tried, day: Day | str) -> Day | None:
    """Of a beer that would be too much now, and not once nothing more ferments in it."""
    if isinstance(day, str) or not day.is_too_full or not day.filling.waits:
        return None
    finished = day_of(replace(ground, left=ONCE_FINISHED), tried)
    return None if isinstance(finished, str) or finished.is_too_full else finished


def because(day: Day | str | None, voice: Voice) -> tuple[SheetRow, ...]:
    """The numbers that it is reckoned from, for whoever asks why."""
    if not isinstance(day, Day):
        return ()
    held = () if day.filling.set_bar is not None else (("holds now", packing_words.held(day)),)
    told = (("may ferment", packing_words.left(day)), *held, ("chance", packing_words.risk(day, voice)))
    return tuple(SheetRow(label, voice.text(text, LONG), Ink.FAINT) for label, text in told)


def _pressures(day: Day | str | None) -> Pressures | None:
    if not isinstance(day, Day):
        return None
    risk = day.filling.risk
    return Pressures(risk.median_bar, risk.high_bar, risk.limit_bar, day.is_too_full)


def _cautions(day: Day | str | None, voice: Voice) -> Iterator[SheetRow]:
    """How it is filled, then what to mind."""
    if not isinstance(day, Day):
        return
    if not day.is_too_full and (to_do := packing_words.to_do(day)):
        before = "" if day.is_safe else "Not yet, but on the day: "
        yield SheetRow(">", voice.text(f"{before}{to_do}", LONG))
    for text in (*packing_words.of_package(day), *odd(day)):
        yield SheetRow("!", voice.text(text, LONG))


def packaged(lane: Lane | None, beers: list[InPackage], voice: Voice, now: datetime) -> BottlingStory:
    """Of beers that are in their packages: what may burst first."""
    said: list[SheetRow] = []
    for one in sorted(beers, key=lambda beer: beer.conditioning.peril is None):
        said.append(SheetRow("", voice.text(one.batch.name), Ink.STRONG))
        cautions = in_package.too_early_words(one, voice)
        said += [SheetRow("!", text, Ink.WARNING) for text in cautions]
        said += [SheetRow("", text) for label, text in in_package.rows(one, now, voice) if text not in cautions]
    name, about = "In their packages", ""
    if lane is not None:
        name, about = voice.text(lane.vessel.name or lane.vessel.slug), "nothing is in it to bottle; out of it:"
    return BottlingStory(name, about, tuple(said))
