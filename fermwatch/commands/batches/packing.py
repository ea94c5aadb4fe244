"""`fermwatch batch package`: the bottling day. Sugar, pressure, risk and verdict are shown; then it is recorded."""

import argparse
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fermwatch.commands import amounts, probes, sheet
from fermwatch.commands.asking import ask, new_id, report
from fermwatch.commands.batches import describing
from fermwatch.commands.batches.filling import Filling, filling, forced_ferment, still_fermentable
from fermwatch.commands.calculations import residual
from fermwatch.commands.calculations.risk import CHANCE, chance_words, pressure_words
from fermwatch.commands.confirming import confirmed, refuse_doubted
from fermwatch.commands.context import Context
from fermwatch.commands.moments import instant
from fermwatch.commands.site import Site, find_batch, open_site
from fermwatch.contracts.inbox import RequestKind
from fermwatch.errors import InputError
from fermwatch.following import follow
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.finding import VerdictKind
from fermwatch.model.judgement import Judgement
from fermwatch.model.quantity import Quantity
from fermwatch.model.rule_settings import DEFAULTS
from fermwatch.model.warmest import conditioning_c
from fermwatch.plain_data import to_plain
from fermwatch.presentation import words
from fermwatch.presentation.voice import Voice
from fermwatch.science.carbonation import ResidualCo2, sugar_named
from fermwatch.science.packages import CAUTION, package_named

LOOK_BACK = timedelta(days=7)  # the warmest of this time stands for the warmest since fermentation was active
FIRST = timedelta(hours=3)


@dataclass(frozen=True, slots=True)
class Day:
    """What is about to be recorded."""

    batch: Batch
    at: datetime
    filling: Filling
    origin: str  # of what the beer holds, in words
    volume_l: float
    bottles: int | None
    judged: Judgement

    @property
    def is_safe(self) -> bool:
        return self.judged.verdict is not None and self.judged.verdict.kind is VerdictKind.SAFE


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("batch", nargs="?", metavar="BATCH", help="identity, beginning of one, name or fermenter")
    describing.package_arguments(parser)
    dose = parser.add_argument_group("sugar")
    dose.add_argument("--sugar", default="sucrose", metavar="NAME", help="(sucrose)")
    dose.add_argument("--dose", metavar="6.2g/L", help="as weighed; without it, reckoned for the volumes wanted")
    dose.add_argument("--volume", metavar="18.2L", help="of beer, measured in the bottling bucket")
    dose.add_argument("--bottles", metavar="N", help="how many were filled")
    residual.arguments(parser)
    parser.add_argument("--at", metavar="TIME", help='when: now, "21:30", "yesterday 21:30", "2026-03-09 18:30"')
    parser.add_argument("--yes", action="store_true", help="store it without asking")
    parser.add_argument("--although-not-safe", action="store_true", help="with --yes: record it against the verdict")


def run(options: argparse.Namespace, context: Context) -> int:
    options.reader = context.units
    with open_site(context) as site:
        day = planned(options, site)
        told = _told(day, site, sheet.width(context))
        verdict = _verdict(day, site.voice)
    sheet.say(context, *told)
    refuse_doubted(
        [] if day.is_safe else [f"{day.batch.name} is not declared safe to bottle: {verdict.rstrip('.')}."],
        yes=options.yes,
        despite=options.although_not_safe,
        option="--although-not-safe",
        remedy=f'See what is not met: fermwatch bottle "{day.batch.name}".',
    )
    although = "" if day.is_safe else ", although it is not declared safe"
    if not confirmed(context, f"Record {day.batch.name} as packaged{although}?", yes=options.yes):
        return 1
    event = packaged(day, new_id(context))
    outcome = ask(context, RequestKind.EVENT, {"batch": day.batch.id, "event": to_plain(event)})
    return report(context, outcome, f"Recorded {day.batch.name} as packaged, as {event.id}.")


def planned(options: argparse.Namespace, site: Site) -> Day:
    """The day as the options and the store say. InputError for what is missing or cannot be."""
    batch = find_batch(site, options.batch)
    _refuse_packaged(batch, site)
    at = instant(options.at, site.now, site.voice.zone)
    choice = describing.package_of(options, batch.package) or batch.package
    if choice is None:
        raise InputError("Into what package?", hint="Add --package returnable-glass --volumes 2.4 --storage 25C.")
    judged = follow(site.reader, replace(batch, package=choice), at).judge_at_once(at)
    held, origin = _held(options, site, batch, at)
    dose = None if options.dose is None else amounts.grams_per_litre(options.dose, what="--dose", high_g_per_l=50.0)
    trend = judged.trend
    beer_c = probes.around(site, batch.vessel, Quantity.BEER_TEMPERATURE, at)
    what_is_left = still_fermentable(trend, beer_c, forced_ferment(batch, site.reader.events(batch.id)))
    now_sg = None if trend is None else min(trend.gravity_sg, batch.original_sg)
    done = filling(
        batch,
        choice,
        held,
        what_is_left,
        sugar=sugar_named(options.sugar).slug,
        dose_g_per_l=dose,
        now_sg=now_sg,
        atmosphere_bar=residual.atmosphere_bar(options),
    )
    volume_l = (
        batch.volume_l
        if options.volume is None
        else amounts.volume_l(options.volume, what="--volume", gallon=options.reader.gallon)
    )
    return Day(batch, at, done, origin, volume_l, _bottles(options.bottles), judged)


def packaged(day: Day, identity: str) -> Event:
    """The event that the watcher is asked to keep."""
    choice, dose = day.filling.choice, day.filling.dose
    data: dict[str, float | str | bool] = {
        "package": choice.kind,
        "volumes": choice.volumes,
        "sugar": dose.sugar,
        "sugar_g_per_l": round(dose.g_per_l, 2),
        "volume_l": round(day.volume_l, 2),
        "conditioning_c": round(conditioning_c(choice, day.batch.yeast), 1),
        "storage_c": round(choice.storage_c, 1),
    }
    if choice.way is not None:
        data["way"] = str(choice.way)
    if day.bottles is not None:
        data["bottles"] = float(day.bottles)
    return Event(identity, day.at, EventKind.PACKAGED, data)


def label(day: Day, voice: Voice) -> str:
    """What to write on the bottles: name, date, volumes, how to keep it and when to open it."""
    local = voice.local(day.at)
    ready = local + timedelta(days=DEFAULTS.conditioning_days)
    best = local + timedelta(days=DEFAULTS.best_within_days)
    choice = day.filling.choice
    return voice.dot.join(
        [
            voice.text(day.batch.name),
            f"{choice.volumes:g} volumes",
            f"bottled {local:%Y-%m-%d}",
            f"store below {choice.storage_c:g} °C",
            f"open {ready:%Y-%m-%d} to {best:%Y-%m-%d}",
        ]
    )


def _refuse_packaged(batch: Batch, site: Site) -> None:
    """A batch is packaged once: a second record would count sugar and bottles twice."""
    done = [event for event in site.reader.events(batch.id) if event.kind is EventKind.PACKAGED and not event.voided]
    if done:
        raise InputError(
            f"{batch.name} was packaged {words.moment(done[0].at, site.now, site.voice)} already.",
            hint=f"Was that a slip? Void it first: fermwatch note void {done[0].id}",
        )


def _bottles(typed: str | None) -> int | None:
    return None if typed is None else int(amounts.number(typed, what="--bottles", low=1, high=100_000))


def _held(options: argparse.Namespace, site: Site, batch: Batch, at: datetime) -> tuple[ResidualCo2, str]:
    """What the beer holds: by the temperatures said, else by the probe's last week."""
    if options.warmest is not None:
        return residual.interval(options), "by the temperatures given"
    said = probes.said(site, batch.vessel, Quantity.BEER_TEMPERATURE, at - LOOK_BACK, at)
    if not said:
        return residual.interval(options), ""
    warmest_c = max(value for _, value in said)
    first = [value for instant_, value in said if instant_ < said[0][0] + FIRST]
    ended_c = min(sum(first) / len(first), warmest_c)
    options = argparse.Namespace(**vars(options) | {"warmest": f"{warmest_c:.2f}C"})
    if options.ended is None:
        options.ended = f"{max(ended_c, 0.0):.2f}C"
    return residual.interval(options), f"by the probe: at most {warmest_c:.1f} °C in the last week"


def _told(day: Day, site: Site, size: int) -> tuple[list[str], list[str], list[str]]:
    done, voice = day.filling, site.voice
    kind = package_named(done.choice.kind)
    pairs = [
        ("batch", f"{voice.text(day.batch.name)}, {words.beer_day(day.batch.pitched_at, day.at, voice)}"),
        ("bottling", _verdict(day, voice)),
        ("package", f"{kind.name}, {done.choice.volumes:g} volumes, stands at {done.choice.storage_c:g} °C at most"),
        ("CO2 in it now", f"{residual.words(done.residual)} ({day.origin})"),
        ("sugar", _sugar(day)),
        ("pressure", f"{pressure_words(done.risk)}, limit {done.risk.limit_bar:.1f} bar"),
        ("risk", f"chance that a bottle exceeds its limit: {chance_words(done.risk)}"),
        ("bottles", "" if day.bottles is None else f"{day.bottles}, {day.volume_l / day.bottles:.2f} L each"),
        ("label", label(day, voice)),
    ]
    told = [line for text in _cautions(day) for line in sheet.paragraph(text, size, mark="! ")]
    return sheet.rows(pairs, size), told, sheet.paragraph(DO, size, mark="> ")


DO = (
    "Look at every bottle against the light, and leave out each that is chipped, scratched or unlike the others. Weigh "
    "the sugar for the beer that is in the bucket, stir gently and wholly. Fill one PET bottle too: squeezed on days "
    "3, 7 and 14, it tells of the others."
)


def _sugar(day: Day) -> str:
    grams, per_litre = day.filling.sugar_g(day.volume_l), day.filling.dose.g_per_l
    return f"{grams:.0f} g of {sugar_named(day.filling.dose.sugar).name} for {day.volume_l:.4g} L ({per_litre:.2f} g/L)"


def _verdict(day: Day, voice: Voice) -> str:
    verdict = day.judged.verdict
    if verdict is None:
        return "not judged: nothing has been measured yet to judge by"
    reasons = "; ".join(voice.text(reason) for reason in verdict.reasons[:3])
    return f"{words.VERDICT_WORDS[verdict.kind]}{f': {reasons}' if reasons else ''}"


def _cautions(day: Day) -> list[str]:
    kind = package_named(day.filling.choice.kind)
    cautions = []
    if not day.is_safe:
        cautions.append("This is not declared safe to bottle. Recorded all the same, it stays your own decision.")
    if not day.filling.risk.acceptable:
        most = day.filling.risk.volumes_at_limit
        cautions.append(
            f"Too much for this package: {most:.1f} volumes bring it to its limit. Less sugar, a stronger package, "
            "or a cooler place."
        )
    if kind.glass:
        cautions += [CAUTION, CHANCE]
    elif kind.note:
        cautions.append(kind.note)
    return cautions
