"""`fermwatch batch package`: the packaging day. Sugar, pressure, risk and verdict are shown; then it is recorded."""

import argparse
from dataclasses import replace
from datetime import datetime, timedelta
from statistics import median

from fermwatch.brewing.bottle_store import settings_of
from fermwatch.commands import amounts, sheet
from fermwatch.commands.asking import ask, report
from fermwatch.commands.batches import describing
from fermwatch.commands.batches.adding_up import check_there_is_so_much
from fermwatch.commands.batches.filling import UNKNOWN_LEFT, by_dose, filling
from fermwatch.commands.batches.packaged import packaging_in, was_it_a_slip, was_packaged
from fermwatch.commands.batches.packing_sheet import Day, doubts, odd, packaged, told
from fermwatch.commands.calculations import residual
from fermwatch.commands.confirming import confirmed, refuse_doubted
from fermwatch.commands.context import Context
from fermwatch.commands.moments import instant
from fermwatch.commands.site import Site, find_batch, open_site
from fermwatch.desk import heard
from fermwatch.desk.asking import new_id
from fermwatch.errors import InputError
from fermwatch.judgement.filling import is_keg
from fermwatch.judgement.following import follow
from fermwatch.judgement.packaging import BEFORE_SETTLED_H
from fermwatch.model.amounts import temperature
from fermwatch.model.batch import Batch
from fermwatch.model.believable import sustained_high
from fermwatch.model.quantity import Quantity
from fermwatch.requests.shapes import Happened
from fermwatch.science.carbonation import ResidualCo2, sugar_named
from fermwatch.science.pressure_risk import SugarDose

LOOK_BACK = timedelta(days=7)  # stands for the time since fermentation was active, where its end is not known
BEFORE_SETTLED = timedelta(hours=BEFORE_SETTLED_H)
FIRST = timedelta(hours=3)


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("batch", nargs="?", metavar="BATCH", help="identity, beginning of one, name or fermenter")
    describing.package_arguments(parser)
    dose = parser.add_argument_group("sugar")
    dose.add_argument("--sugar", default="sucrose", metavar="NAME", help="(sucrose)")
    dose.add_argument("--dose", metavar="6.2g/L", help="as weighed; without it, reckoned for the volumes wanted")
    dose.add_argument("--volume", metavar="18.2L", help="of beer, measured in the bottling bucket or the keg")
    dose.add_argument("--headspace", metavar="PERCENT", help="of the package left empty (4%%, a keg 5%%)")
    dose.add_argument("--bottles", metavar="N", help="how many were filled")
    parser.add_argument("--stands-by", metavar="PROBE", help="of the bottle store, where several are configured")
    residual.arguments(parser)
    parser.add_argument("--at", metavar="TIME", help='when: now, "21:30", "yesterday 21:30", "2026-03-09 18:30"')
    parser.add_argument("--yes", action="store_true", help="store it without asking")
    parser.add_argument("--even-so", action="store_true", help="with --yes: record amounts that do not add up")
    parser.add_argument("--although-not-safe", action="store_true", help="with --yes: record it against the verdict")


def run(options: argparse.Namespace, context: Context) -> int:
    options.reader = context.units
    with open_site(context) as site:
        day = planned(options, site)
        blocks = told(day, site.voice, sheet.width(context))
        doubted, adds_up_not = doubts(day, site.voice), odd(day)
    sheet.say(context, *blocks)
    refuse_doubted(
        doubted,
        yes=options.yes,
        despite=options.although_not_safe,
        option="--although-not-safe",
        remedy=f'See what is not met: fermwatch bottle "{day.batch.name}".',
    )
    refuse_doubted(adds_up_not, yes=options.yes, despite=options.even_so, option="--even-so")
    although = "" if not doubted else ", although it is not declared safe"
    if not confirmed(context, f"Record {day.batch.name} as packaged{although}?", yes=options.yes):
        return 1
    event = packaged(day, new_id(context.clock.now()))
    outcome = ask(context, Happened(day.batch.id, event))
    return report(context, outcome, f"Recorded {day.batch.name} as packaged, as {event.id}.")


def planned(options: argparse.Namespace, site: Site) -> Day:
    """The day as the options and the store say. InputError for what is missing or cannot be."""
    batch = find_batch(site, options.batch)
    _refuse_packaged(batch, site)
    at = instant(options.at, site.now, site.voice.zone)
    choice = describing.package_of(options, batch.package) or batch.package
    if choice is None:
        raise InputError("Into what package?", hint="Add --package returnable-glass --volumes 2.4 --storage 25C.")
    if is_keg(choice) and options.bottles is not None:
        raise InputError("--bottles: a keg is no bottle.", hint="Leave it out, or say --package returnable-glass.")
    judge = follow(site.reader, replace(batch, package=choice), at)
    judged = judge.judge_at_once(at)
    held, origin = _held(options, site, batch, at, judge.settled_at())
    sugar, share = sugar_named(options.sugar).slug, _headspace(options.headspace)
    dose = None
    if options.dose is not None:
        dose = SugarDose(amounts.grams_per_litre(options.dose, what="--dose", high_g_per_l=50.0), sugar)
        choice = by_dose(batch, choice, held, dose, share)
        judge = follow(site.reader, replace(batch, package=choice), at)
        judged = judge.judge_at_once(at)
    done = filling(
        batch,
        choice,
        held,
        judge.left() or UNKNOWN_LEFT,
        sugar=sugar,
        dose=dose,
        now_sg=None if judged.trend is None else min(judged.trend.gravity_sg, batch.original_sg),
        headspace_share=share,
        atmosphere_bar=residual.atmosphere_bar(options),
    )
    volume_l = (
        batch.volume_l
        if options.volume is None
        else amounts.volume_l(options.volume, what="--volume", gallon=options.reader.gallon)
    )
    events = site.reader.events(batch.id)
    check_there_is_so_much(batch, events, volume_l)
    stands_by, settings = _store_probe(options.stands_by, site), settings_of(site.reader, batch)
    return Day(batch, at, done, origin, volume_l, _bottles(options.bottles), judged, events, stands_by, settings)


def _store_probe(typed: str | None, site: Site) -> str:
    """The probe of the bottle store that was named; empty where the only one, or none, is meant."""
    if typed is None:
        return ""
    there = [one.probe.slug for one in site.reader.series() if one.probe.quantity is Quantity.STORE_TEMPERATURE]
    if typed not in there:
        hint = f"There is: {', '.join(there)}." if there else "Configure one: a [[probe]] of store-temperature."
        raise InputError(f"--stands-by: {typed!r:.40} is no probe of a bottle store.", hint=hint)
    return typed


def _refuse_packaged(batch: Batch, site: Site) -> None:
    """A batch is packaged once: a second record would count sugar and bottles twice."""
    done = packaging_in(site, batch)
    if done is not None:
        raise InputError(f"{was_packaged(site, batch, done)}.", hint=was_it_a_slip(done))


def _headspace(typed: str | None) -> float | None:
    return None if typed is None else amounts.percent(typed, what="--headspace", low=2.0, high=60.0) / 100.0


def _bottles(typed: str | None) -> int | None:
    return None if typed is None else int(amounts.number(typed, what="--bottles", low=1, high=100_000))


def _held(
    options: argparse.Namespace, site: Site, batch: Batch, at: datetime, settled_at: datetime | None
) -> tuple[ResidualCo2, str]:
    """What the beer holds: by the temperatures said, else by the probe since fermentation ended."""
    if options.warmest is not None:
        return residual.interval(options), "by the temperatures given"
    start = at - LOOK_BACK if settled_at is None else max(settled_at - BEFORE_SETTLED, batch.pitched_at)
    said = heard.said(site.reader, batch.vessel, Quantity.BEER_TEMPERATURE, start, at)
    if not said:
        return residual.interval(options), ""
    warmest_c = sustained_high((instant_.timestamp(), value) for instant_, value in said)
    if warmest_c is None:
        return residual.interval(options), ""
    ended_c = min(median(value for instant_, value in said if instant_ < said[0][0] + FIRST), warmest_c)
    options = argparse.Namespace(**vars(options) | {"warmest": f"{warmest_c:.2f}C"})
    if options.ended is None:
        options.ended = f"{max(ended_c, 0.0):.2f}C"
    since = "in the last week" if settled_at is None else "since it finished"
    return residual.interval(options), f"by the probe: at most {temperature(warmest_c)} {since}"
