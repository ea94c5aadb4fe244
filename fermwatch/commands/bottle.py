"""`fermwatch bottle`: may this beer be bottled now? Judged from the readings, never from what was said before.

The exit status is 0 for `safe` alone, so that a script cannot mistake anything else for it.
"""

import argparse
from dataclasses import replace

from fermwatch.brewing.bottle_store import packaged_beer
from fermwatch.commands import sheet
from fermwatch.commands.batches import describing
from fermwatch.commands.batches.packaged import packaging_in, was_it_a_slip, was_packaged
from fermwatch.commands.context import Context
from fermwatch.commands.site import Site, find_batch, open_site
from fermwatch.desk.packaging import to_measure_first
from fermwatch.desk.pressure_words import AIR
from fermwatch.errors import InputError
from fermwatch.judgement.filling import is_keg
from fermwatch.judgement.following import follow
from fermwatch.model.batch import Batch
from fermwatch.model.finding import VerdictKind
from fermwatch.model.judgement import Forecast, Judgement, Verdict
from fermwatch.model.warmest import warmest_of
from fermwatch.saying import for_programs, in_package
from fermwatch.saying.judged import further_reasons
from fermwatch.saying.measured import estimate_words
from fermwatch.saying.words import ahead, moment, verdict_words

NOT_SAFE = 1
CAUTION = (
    "Bottles filled too early burst, and glass flies. Wear eye protection and gloves when handling full bottles, "
    "weigh the sugar, and never use chipped or square glass. This verdict rests on what was measured; it cannot see "
    "an infection that has not begun."
)

KEG_CAUTION = (
    f"A keg needs a relief valve that opens below what is stamped on it. {AIR} This verdict rests on what was "
    "measured; it cannot see an infection that has not begun."
)


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("batch", nargs="?", help="its name, fermenter, or the beginning of its id")
    describing.package_arguments(parser)
    parser.add_argument("--json", action="store_true", help="the verdict with all its evidence, as JSON")


def run(options: argparse.Namespace, context: Context) -> int:
    options.reader = context.units
    with open_site(context) as site:
        batch = _asked_of(find_batch(site, options.batch), options, site)
        if batch.packaged_at is not None:
            return _packaged_already(site, batch, options, context)
        judged = follow(site.reader, batch, site.now).judge_at_once(site.now)
        verdict = judged.verdict
        if options.json:
            plain = {"judgement": for_programs.judgement(judged), **_judged_at(batch), "conditioning": None}
            sheet.say_json(context, {"batch": for_programs.batch(batch), **plain})
        else:
            sheet.say(context, *_told(site, batch, judged, sheet.width(context)))
    return 0 if verdict is not None and verdict.kind is VerdictKind.SAFE else NOT_SAFE


def _judged_at(batch: Batch) -> dict[str, float | str | None]:
    if batch.package is None:
        return {"judged_at_c": None, "judged_at_because": None}
    warmest = warmest_of(batch.package, batch.yeast)
    return {"judged_at_c": warmest.temperature_c, "judged_at_because": warmest.why}


def _packaged_already(site: Site, batch: Batch, options: argparse.Namespace, context: Context) -> int:
    """Whether it may be bottled is no question any more: when it was, and what comes next."""
    beer = packaged_beer(site.reader, batch, site.now)
    if options.json:
        _, timezone = site.reader.site()
        judgement = for_programs.judgement(beer.judgement) if beer.judgement else None
        plain = {"judgement": judgement, **_judged_at(batch)}
        plain["conditioning"] = for_programs.packaged(beer, site.now, timezone)
        sheet.say_json(context, {"batch": for_programs.batch(batch), **plain})
        return NOT_SAFE
    when = moment(beer.packaging.at, site.now, site.voice)
    head = f"{site.voice.text(batch.name)} was packaged {when}: {in_package.held_words(beer)}."
    rows = [] if batch.ended_at is not None else in_package.rows(beer, site.now, site.voice)
    width = sheet.width(context)
    slip = f"Not packaged after all? Take it back: fermwatch note void {beer.packaging.event_id}"
    sheet.say(context, sheet.paragraph(head, width), sheet.rows(rows, width), sheet.paragraph(slip, width))
    return NOT_SAFE


def _asked_of(batch: Batch, options: argparse.Namespace, site: Site) -> Batch:
    """The batch in the package asked about. InputError where it is in one already, and asked about for another."""
    asked = _with_package(batch, options)
    done = packaging_in(site, batch)
    if done is not None and asked.package != batch.package:
        raise InputError(
            f"{was_packaged(site, batch, done)}: another package is not asked about any more.",
            hint=was_it_a_slip(done),
        )
    return asked


def _with_package(batch: Batch, options: argparse.Namespace) -> Batch:
    """The batch as if meant for what the options say of its package; what they do not say stays."""
    return replace(batch, package=describing.package_of(options, batch.package) or batch.package)


def _told(site: Site, batch: Batch, judged: Judgement, width: int) -> list[list[str]]:
    verdict, keg = judged.verdict, is_keg(batch.package)
    title = f"{site.voice.text(batch.name)}, {moment(site.now, site.now, site.voice)}"
    if verdict is None:
        first = site.voice.text(f"Not ready to {'keg' if keg else 'bottle'}: {to_measure_first(batch)}.", sheet.LONG)
        return [sheet.paragraph(f"{title}: {first}", width)]
    head = sheet.paragraph(
        f"{title}: {site.voice.text(verdict.sentence) or verdict_words(verdict.kind, keg=keg)}", width
    )
    if judged.trend is not None and judged.trend.remark:
        said = site.voice.text(f"{estimate_words(judged.trend)}: {judged.trend.remark}")
        head += sheet.paragraph(f"Gravity is {said}.", width)
    for reason in further_reasons(verdict, site.voice):
        head += sheet.paragraph(reason, width, mark="  ")
    blocks = [
        head,
        _next(site, verdict, width),
        _expected(site, judged.forecast, width),
        _evidence(site, verdict, width),
    ]
    blocks.append(sheet.paragraph(KEG_CAUTION if keg else CAUTION, width))
    return [block for block in blocks if block]


def _evidence(site: Site, verdict: Verdict, width: int) -> list[str]:
    lines = []
    unmet = "was met  " if verdict.kind is VerdictKind.SAFE else "not met  "
    for evidence in verdict.evidence:
        mark = "met      " if evidence.met else unmet
        lines += sheet.paragraph(f"{evidence.name}: {site.voice.text(evidence.statement)}", width, mark=mark)
    return lines


def _expected(site: Site, forecast: Forecast | None, width: int) -> list[str]:
    """Where it should end, where the brewer's own batches count in that."""
    if forecast is None or not forecast.rests_on:
        return []
    ends = f"{site.voice.gravity(forecast.terminal_sg)}, most likely between "
    ends += site.voice.gravity_range(forecast.low_sg, forecast.high_sg)
    return sheet.paragraph(f"It should end at {ends}: {site.voice.text(forecast.rests_on)}.", width)


def _next(site: Site, verdict: Verdict, width: int) -> list[str]:
    when = ""
    if verdict.next_at is not None and verdict.next_at > site.now:
        when = f" {moment(verdict.next_at, site.now, site.voice)} ({ahead(verdict.next_at, site.now)})"
    told = [(f"Next{when}", verdict.next_step), ("Meanwhile" if verdict.next_step else "Next", verdict.next_beside)]
    return [line for name, step in told if step for line in sheet.paragraph(f"{name}: {site.voice.text(step)}", width)]
