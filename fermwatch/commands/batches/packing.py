"""`fermwatch batch package`: the packaging day. Sugar, pressure, risk and verdict are shown; then it is recorded."""

import argparse

from fermwatch.commands import amounts
from fermwatch.commands.batches import describing
from fermwatch.commands.batches.packaged import packaging_in, was_it_a_slip, was_packaged
from fermwatch.commands.calculations import residual
from fermwatch.commands.context import Context
from fermwatch.commands.moments import instant
from fermwatch.commands.site import Site, find_batch, open_site
from fermwatch.commands.storing import store
from fermwatch.desk import packaging
from fermwatch.desk.asking import new_id
from fermwatch.desk.packaging import Day, Wanted, odd
from fermwatch.desk.packing_words import doubts, told
from fermwatch.desk.prepared import Prepared
from fermwatch.errors import InputError
from fermwatch.model.batch import Batch


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
    parser.add_argument("--even-so", action="store_true", help="with --yes: record what is doubted")
    parser.add_argument("--although-not-safe", action="store_true", help="with --yes: record it against the verdict")


def run(options: argparse.Namespace, context: Context) -> int:
    options.reader = context.units
    with open_site(context) as site:
        ready = prepared(options, context, site)
        named = find_batch(site, options.batch).name
    return store(options, context, ready, remedy=f'See what is not met: fermwatch bottle "{named}".')


def prepared(options: argparse.Namespace, context: Context, site: Site) -> Prepared:
    """The packaging day as it would be recorded. InputError for what is missing or cannot be."""
    day = planned(options, site)
    rows, minded, to_do = told(day, site.voice)
    against = tuple(doubts(day, site.voice))
    although = ", although it is not declared safe" if against else ""
    asked = day.asked(new_id(context.clock.now()))
    return Prepared(
        rows,
        asked,
        f"Record {day.batch.name} as packaged{although}?",
        f"Recorded {day.batch.name} as packaged.",
        asked.event.id,
        minded=minded,
        to_do=to_do,
        doubts=tuple(odd(day)),
        against=against,
    )


def planned(options: argparse.Namespace, site: Site) -> Day:
    """The day as the options and the store say. InputError for what is missing or cannot be."""
    batch = find_batch(site, options.batch)
    _refuse_packaged(batch, site)
    at = instant(options.at, site.now, site.voice.zone)
    return packaging.planned(site.reader, batch, _wanted(options, batch), at)


def _wanted(options: argparse.Namespace, batch: Batch) -> Wanted:
    gallon, dose = options.reader.gallon, options.dose
    return Wanted(
        choice=describing.package_of(options, batch.package),
        volume_l=None if options.volume is None else amounts.volume_l(options.volume, what="--volume", gallon=gallon),
        bottles=_bottles(options.bottles),
        sugar=options.sugar,
        dose_g_per_l=None if dose is None else amounts.grams_per_litre(dose, what="--dose", high_g_per_l=50.0),
        headspace_share=_headspace(options.headspace),
        stands_by=options.stands_by or "",
        held=residual.held(options),
    )


def _refuse_packaged(batch: Batch, site: Site) -> None:
    """A batch is packaged once: a second record would count sugar and bottles twice."""
    done = packaging_in(site, batch)
    if done is not None:
        raise InputError(f"{was_packaged(site, batch, done)}.", hint=was_it_a_slip(done))


def _headspace(typed: str | None) -> float | None:
    return None if typed is None else amounts.percent(typed, what="--headspace", low=2.0, high=60.0) / 100.0


def _bottles(typed: str | None) -> int | None:
    return None if typed is None else int(amounts.number(typed, what="--bottles", low=1, high=100_000))
