"""`fermwatch batch open`: what is pitched, with what is wrong about it said before it is stored."""

import argparse

from fermwatch.brewing.air import air_bar
from fermwatch.commands import sheet
from fermwatch.commands.batches import describing
from fermwatch.commands.batches.showing import batch_rows
from fermwatch.commands.context import Context
from fermwatch.commands.site import Site, open_site
from fermwatch.commands.storing import store
from fermwatch.desk.asking import new_id
from fermwatch.desk.opening import check_fits, fermenters, forced_ferment, free_vessel, warnings, wort_temperature
from fermwatch.desk.prepared import Prepared
from fermwatch.errors import InputError
from fermwatch.model.amounts import typed_gravity
from fermwatch.model.batch import Batch, Instrument

USUAL_FILL = 0.8  # of the fermenter, where no volume is said


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("name", metavar="NAME", help="what you call the beer")
    describing.naming_arguments(parser)
    describing.wort_arguments(parser)
    describing.yeast_arguments(parser)
    describing.package_arguments(parser)


def run(options: argparse.Namespace, context: Context) -> int:
    options.reader = context.units
    with open_site(context) as site:
        ready = prepared(options, context, site)
    return store(options, context, ready)


def prepared(options: argparse.Namespace, context: Context, site: Site) -> Prepared:
    """The batch as it would be opened. InputError for what is missing or cannot be."""
    batch = opened(options, site, new_id(context.clock.now()))
    warned = (*wort_temperature(site.reader, batch, site.now), *warnings(batch, air_bar(site.reader.vessels())))
    return Prepared(
        _rows(options, batch, site),
        batch,
        f"Open {batch.name} in {batch.vessel}?",
        f"Opened {batch.name} in {batch.vessel}.",
        batch.id,
        minded=tuple(site.voice.text(text, sheet.LONG) for text in warned),
        to_do=site.voice.text(forced_ferment(batch, site.now), sheet.LONG),
    )


def opened(options: argparse.Namespace, site: Site, batch_id: str) -> Batch:
    """The batch that the options describe. InputError for what is missing or cannot be."""
    fields = describing.described(options, site, {})
    for needed, example in (
        ("vessel", "--vessel SLUG"),
        ("original_sg", f"--og {typed_gravity(1.052)}"),
        ("yeast", "--yeast clean-ale"),
    ):
        if needed not in fields:
            raise InputError(f"{example.split()[0]} is needed to open a batch.", hint=_hint(needed, example, site))
    vessel = free_vessel(site.reader, fields.pop("vessel"))
    fields.setdefault("fermenter_volume_l", vessel.volume_l)
    fields.setdefault("volume_l", round(USUAL_FILL * fields["fermenter_volume_l"], 1))
    fields.setdefault("pitched_at", site.now)
    name = options.name.strip()
    if not name:
        raise InputError("The batch needs a name.", hint='As: fermwatch batch open "Harvest Ale" ...')
    if options.og_by == Instrument.REFRACTOMETER:
        fields["original_by"] = Instrument.REFRACTOMETER
    batch = Batch(id=batch_id, name=name, vessel=vessel.slug, **fields)
    check_fits(batch)
    return batch


def _hint(needed: str, example: str, site: Site) -> str:
    return fermenters(site.reader) if needed == "vessel" else f"As {example}."


def _rows(options: argparse.Namespace, batch: Batch, site: Site) -> tuple[tuple[str, str], ...]:
    original = describing.original_gravity(options)
    steps = (
        ""
        if original is None or not original.steps
        else site.voice.text(f"{options.og.strip()} read: {', '.join(original.steps)}")
    )
    filled = "" if options.volume else f"volume not said: {USUAL_FILL:.0%} of the fermenter taken"
    return (*batch_rows(batch, site.now, site.voice), ("", steps), ("", filled))
