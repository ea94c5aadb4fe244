"""`fermwatch batch edit` and `end`: what was said of a batch put right, and its end."""

import argparse
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from fermwatch.brewing.air import air_bar
from fermwatch.commands import sheet
from fermwatch.commands.asking import ask, report
from fermwatch.commands.batches import describing
from fermwatch.commands.batches.packaged import packaging_in, was_it_a_slip, was_packaged
from fermwatch.commands.batches.showing import batch_rows
from fermwatch.commands.confirming import confirmed, refuse_doubted
from fermwatch.commands.context import Context
from fermwatch.commands.site import Site, find_batch, open_site
from fermwatch.desk.opening import check_fits, edit_of, warnings
from fermwatch.errors import InputError
from fermwatch.model.batch import Batch, Instrument
from fermwatch.requests.shapes import BatchEdit, EndingBatch


def edit_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("batch", metavar="BATCH", help="identity, beginning of one, name or fermenter")
    parser.add_argument("--name", metavar="NAME", help="a new name")
    describing.naming_arguments(parser)
    describing.wort_arguments(parser)
    describing.yeast_arguments(parser)
    describing.package_arguments(parser)
    parser.add_argument("--even-so", action="store_true", help="with --yes: change it although that was questioned")


def end_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("batch", metavar="BATCH", help="identity, beginning of one, name or fermenter")
    parser.add_argument("--yes", action="store_true", help="end it without asking")


def edit(options: argparse.Namespace, context: Context) -> int:
    options.reader = context.units
    with open_site(context) as site:
        batch = find_batch(site, options.batch)
        changed, asked = edited(options, site, batch)
        told = _told(batch, changed, site, sheet.width(context))
        doubted = _doubts(batch, asked.changes, site)
    sheet.say(context, *told, [line for text in doubted for line in sheet.paragraph(text, 80, mark="! ")])
    refuse_doubted(doubted, yes=options.yes, despite=options.even_so, option="--even-so")
    if not confirmed(context, f"Change {', '.join(sorted(asked.changes))} of {batch.name}?", yes=options.yes):
        return 1
    outcome = ask(context, asked)
    return report(context, outcome, f"Changed {', '.join(sorted(asked.changes))} of {changed.name}.")


def end(options: argparse.Namespace, context: Context) -> int:
    with open_site(context) as site:
        batch = find_batch(site, options.batch)
    if batch.ended_at is not None:
        raise InputError(f"{batch.name} has already ended.")
    told = (
        f"{batch.name}: the last fresh one is drunk? Nothing more is said of it then. Its history stays."
        if batch.in_package
        else f"{batch.name} in {batch.vessel} would be judged and watched no longer. Its history stays."
    )
    sheet.say(context, sheet.paragraph(told, sheet.width(context)))
    if not confirmed(context, f"End {batch.name}?", yes=options.yes):
        return 1
    return report(context, ask(context, EndingBatch(batch.id)), f"Ended {batch.name}.")


def edited(options: argparse.Namespace, site: Site, batch: Batch) -> tuple[Batch, BatchEdit]:
    """The batch as it would be, and what changes, as plain data. InputError where nothing does."""
    before = {"yeast": batch.yeast, "package": batch.package}
    fields = describing.described(options, site, before)
    if options.name is not None:
        fields["name"] = options.name.strip()
    if options.og is not None:
        fields["original_by"] = Instrument(options.og_by or Instrument.HYDROMETER)
    changed = replace(batch, **fields)
    if not changed.name:
        raise InputError("The batch needs a name.")
    check_fits(changed)
    asked = edit_of(batch, changed)
    if not asked.changes:
        raise InputError("Nothing would change.", hint="Say what: fermwatch batch edit --help shows the options.")
    return changed, asked


def _doubts(batch: Batch, changes: Mapping[str, Any], site: Site) -> list[str]:
    """What is in the package already does not change by what is said of it."""
    done = packaging_in(site, batch) if "package" in changes else None
    if done is None:
        return []
    return [f"{was_packaged(site, batch, done)}: what it is in does not change by this. {was_it_a_slip(done)}."]


def _told(batch: Batch, changed: Batch, site: Site, size: int) -> tuple[list[str], list[str]]:
    """The rows that change, before and after, and what is risky about it now."""
    before, after = (dict(batch_rows(one, site.now, site.voice)) for one in (batch, changed))
    pairs = [(label, f"{before[label] or '-'}  ->  {after[label]}") for label in after if before[label] != after[label]]
    told = [
        line
        for text in warnings(changed, air_bar(site.reader.vessels()))
        for line in sheet.paragraph(site.voice.text(text, sheet.LONG), size, mark="! ")
    ]
    return sheet.rows(pairs, size), told
