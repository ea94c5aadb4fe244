"""`fermwatch batch yeasts`: the generic kinds, as a table."""

import argparse

from fermwatch.brewing.generic_yeasts import generic_yeast
from fermwatch.commands import sheet
from fermwatch.commands.context import Context
from fermwatch.model.amounts import typed_temperature_range
from fermwatch.saying import for_programs
from fermwatch.saying.voice import Voice
from fermwatch.science.yeasts import YEASTS, YeastKind

HEADER = ("KIND", "RANGE", "ATTENUATION %", "LAG h", "ALCOHOL %", "REMARK")


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="as JSON, with units in the names")


def run(options: argparse.Namespace, context: Context) -> int:
    if options.json:
        sheet.say_json(context, {"yeasts": [for_programs.yeast(generic_yeast(slug)) for slug in YEASTS]})
        return 0
    sheet.say(
        context,
        sheet.table(HEADER, [_line(kind, context.voice) for kind in YEASTS.values()], remarks=1),
        sheet.paragraph(
            "Generic kinds, by common practice. The packet's own figures go over them: --temperature "
            f"{context.voice.text(typed_temperature_range(18, 21))} --attenuation 74-79 "
            "--lag-max 30h --alcohol-tolerance 9 --diastatic",
            sheet.width(context),
        ),
    )
    return 0


def _line(kind: YeastKind, voice: Voice) -> tuple[str, ...]:
    remarks = {"diastatic": kind.diastatic, "lager": kind.lager, "never bottles": kind.maltose_negative}
    return (
        kind.slug,
        voice.temperature_range(*kind.temperature_c),
        "{:.0f}–{:.0f}".format(*(100.0 * share for share in kind.attenuation)),
        f"{kind.longest_lag_h:g}",
        f"{kind.alcohol_tolerance_abv:g}",
        ", ".join(remark for remark, holds in remarks.items() if holds),
    )
