"""`fermwatch batch show` and `list`: what was pitched, what was measured and done, and where it stands."""

import argparse
from collections.abc import Iterable
from datetime import datetime

from fermwatch.brewing.bottle_store import packaged_beer
from fermwatch.commands import sheet
from fermwatch.commands.batches.package_words import judged_words
from fermwatch.commands.context import Context
from fermwatch.commands.site import Site, find_batch, open_command, open_site
from fermwatch.contracts.feed import InPackage
from fermwatch.judgement.filling import is_keg
from fermwatch.model.batch import Batch, Event, GravityMeasurement
from fermwatch.model.judgement import Judgement, Trend
from fermwatch.saying import for_programs, in_package, pitched, words
from fermwatch.saying.happened import event_words, measurement_words
from fermwatch.saying.judged import step_words
from fermwatch.saying.measured import attenuation_at, by_a_probe_that_is_off, estimate_words, judged_rate
from fermwatch.saying.voice import Voice

MOST_LINES = 12


def show_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("batch", nargs="?", metavar="BATCH", help="identity, beginning of one, name or fermenter")
    parser.add_argument("--json", action="store_true", help="as JSON, with units in the names")


def list_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--all", action="store_true", help="ended ones too")
    parser.add_argument("--json", action="store_true", help="as JSON, with units in the names")


def show(options: argparse.Namespace, context: Context) -> int:
    with open_site(context) as site:
        batch = find_batch(site, options.batch)
        measurements = site.reader.measurements(batch.id, strict=False)
        events = site.reader.events(batch.id, strict=False)
        judgement = site.reader.judgement(batch.id)
        packaged = packaged_beer(site.reader, batch, site.now) if batch.in_package else None
        _, timezone = site.reader.site()
        misread = for_programs.misreads(site.reader.misread())
    if options.json:
        plain = {
            "batch": for_programs.batch(batch),
            "judgement": for_programs.judgement(judgement) if judgement else None,
            "conditioning": for_programs.packaged(packaged, site.now, timezone) if packaged else None,
            "measurements": [for_programs.measurement(one) for one in measurements],
            "events": [for_programs.event(one) for one in events],
            "misread": misread,
        }
        sheet.say_json(context, plain)
        return 0
    size = sheet.width(context)
    sheet.say(
        context,
        sheet.rows(batch_rows(batch, site.now, site.voice, events), size),
        sheet.rows(_judged(batch, judgement, events, site) if packaged is None else _packaged(packaged, site), size),
        _history(measurements, events, site, size),
    )
    return 0


def list_all(options: argparse.Namespace, context: Context) -> int:
    with open_site(context) as site:
        batches = site.reader.batches(ended=options.all)
        judgements = {batch.id: site.reader.judgement(batch.id) for batch in batches}
        packaged = [packaged_beer(site.reader, batch, site.now) for batch in batches if batch.in_package]
        misread = for_programs.misreads(site.reader.misread())
    if options.json:
        sheet.say_json(context, {"batches": [for_programs.batch(batch) for batch in batches], "misread": misread})
        return 0
    if not batches:
        told = site.voice.text(f"No batch is open. Open one: {open_command()}")
        sheet.say(context, sheet.paragraph(told, sheet.width(context)))
        return 0
    unit = " °P" if site.voice.units.plato else ""
    header = ("BATCH", "FERMENTER", "DAY", f"OG{unit}", "NOW", "STATE", "IDENTITY")
    listed = [_line(batch, judgements[batch.id], site) for batch in batches if not batch.in_package]
    size = sheet.width(context)
    table = sheet.table(header, listed, left=7, size=size) if listed else []
    sheet.say(context, *([table] if table else []), _packaged_table(packaged, site, size))
    return 0


def _packaged_table(packaged: list[InPackage], site: Site, size: int) -> list[str]:
    """Beers in their bottles and kegs: they have left their fermenters."""
    if not packaged:
        return []
    now, voice = site.now, site.voice
    rows = [
        (
            voice.text(one.batch.name, 24),
            in_package.day_words(one.packaging, now, voice),
            in_package.next_words(one.conditioning, now, voice),
            one.batch.id,
        )
        for one in packaged
    ]
    return sheet.table(("PACKAGED", "SINCE", "NEXT", "IDENTITY"), rows, left=4, size=size)


def _packaged(beer: InPackage, site: Site) -> list[tuple[str, str]]:
    """How it goes with it in its package, and as history what was said on the day that it went there."""
    judged, voice = beer.judgement, site.voice
    pairs = in_package.rows(beer, site.now, voice)
    if judged is not None and judged.trend is not None:
        came = _attenuated(judged.trend, beer.batch, beer.events)
        pairs.append(("gravity then", f"{voice.gravity(_last_real(judged.trend))}, {came}"))
    if judged is not None and judged.verdict is not None:
        pairs.append(("verdict then", words.verdict_words(judged.verdict.kind, keg=beer.packaging.in_keg)))
    return pairs


def batch_rows(batch: Batch, now: datetime, voice: Voice, events: tuple[Event, ...] = ()) -> list[tuple[str, str]]:
    """What was pitched, as labelled rows. events: what was added since counts in where it should end."""
    return pitched.rows(batch, now, voice, events, judged_words(batch))


def _judged(batch: Batch, judgement: Judgement | None, events: tuple[Event, ...], site: Site) -> list[tuple[str, str]]:
    if judgement is None:
        return [("judged", "not yet: the watcher has not seen it")]
    now, voice = site.now, site.voice
    pairs = []
    if judgement.trend is not None:
        pairs.append(("gravity", _gravity(judgement, judgement.trend, batch, events, site)))
    if judgement.phase is not None:
        since = words.moment(judgement.phase.since, now, voice)
        pairs.append(("phase", f"{words.PHASE_WORDS[judgement.phase.phase]} since {since}"))
    if judgement.verdict is not None:
        verdict, keg = judgement.verdict, is_keg(batch.package)
        kind = words.verdict_words(verdict.kind, keg=keg)
        pairs.append(("kegging" if keg else "bottling", voice.text(verdict.sentence) or kind))
        if verdict.next_steps:
            pairs.append(("next", step_words(verdict, now, voice)))
    return pairs


def _gravity(judgement: Judgement, trend: Trend, batch: Batch, events: tuple[Event, ...], site: Site) -> str:
    """The gravity as it was last measured; what is only estimated is called so."""
    voice, last_sg = site.voice, _last_real(trend)
    measured = voice.gravity(last_sg)
    if trend.measured_at is not None:
        measured += f" by {trend.measured_by} {words.moment(trend.measured_at, site.now, voice)}"
    came = _attenuated(trend, batch, events)
    of_estimate = by_a_probe_that_is_off(trend)
    parts = (measured, voice.text(judged_rate(judgement)), "" if of_estimate else came, voice.text(trend.remark))
    measured = ", ".join(part for part in parts if part)
    if not estimate_words(trend):
        return measured
    spread = voice.gravity_spread(round(trend.gravity_sd_points, 1))
    estimate = f"estimated for now {voice.gravity(trend.gravity_sg)} {spread}"
    return f"{measured}; {estimate}{f', {came}' if of_estimate and came else ''}"


def _attenuated(trend: Trend, batch: Batch, events: Iterable[Event]) -> str:
    share = attenuation_at(_last_real(trend), trend.measured_at or trend.at, trend, batch, events)
    return "" if share is None else f"{max(share, 0.0):.0%} attenuated"


def _history(
    measurements: tuple[GravityMeasurement, ...], events: tuple[Event, ...], site: Site, size: int
) -> list[str]:
    """What people did and measured, the newest last; voided ones are marked."""
    told = [(one.at, measurement_words(one, site.voice)) for one in measurements]
    told += [(one.at, event_words(one, site.now, site.voice)) for one in events]
    told.sort(key=lambda one: one[0])
    lines = sheet.rows([(words.moment(at, site.now, site.voice), said) for at, said in told[-MOST_LINES:]], size)
    left_out = len(told) - MOST_LINES
    return [f"{left_out} earlier entries: --json shows all", *lines] if left_out > 0 else lines


def _last_real(trend: Trend) -> float:
    return trend.gravity_sg if trend.measured_sg is None else trend.measured_sg


def _line(batch: Batch, judgement: Judgement | None, site: Site) -> tuple[str, ...]:
    trend = judgement.trend if judgement is not None else None
    state = "ended" if batch.ended_at is not None else "open"
    if batch.ended_at is None and judgement is not None and judgement.phase is not None:
        state = words.PHASE_WORDS[judgement.phase.phase]
    return (
        site.voice.text(batch.name, 24),
        site.voice.text(batch.vessel, 16),
        words.beer_day(batch.pitched_at, site.now, site.voice).removeprefix("day "),
        site.voice.bare_gravity(batch.original_sg),
        "-" if trend is None else site.voice.bare_gravity(_last_real(trend)),
        state,
        batch.id,
    )
