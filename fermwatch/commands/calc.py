"""`fermwatch calc`: the computing of the trade from the command line. Nothing is stored, and no store is needed."""

import argparse
from collections.abc import Mapping, Sequence
from types import ModuleType

from fermwatch.commands import sheet
from fermwatch.commands.calculations import (
    alcohol,
    gravity,
    heat,
    hydrometer,
    keg,
    left,
    pressure,
    priming,
    refractometer,
    risk,
    sensor,
)
from fermwatch.commands.context import Context

CALCULATIONS: Mapping[str, ModuleType] = {
    "gravity": gravity,
    "hydrometer": hydrometer,
    "refractometer": refractometer,
    "alcohol": alcohol,
    "left": left,
    "priming": priming,
    "pressure": pressure,
    "risk": risk,
    "keg": keg,
    "heat": heat,
    "sensor": sensor,
}


def arguments(parser: argparse.ArgumentParser) -> Sequence[argparse.ArgumentParser]:
    """Gives back the parsers of the calculations."""
    parts = parser.add_subparsers(dest="calculation", metavar="WHAT", title="what", required=True)
    parsers = []
    for name, module in CALCULATIONS.items():
        purpose = module.PURPOSE
        part = parts.add_parser(name, help=purpose, description=f"{purpose[0].upper()}{purpose[1:]}.")
        module.arguments(part)
        part.add_argument("--json", action="store_true", help="the figures as JSON, metric, with units in the names")
        parsers.append(part)
    return parsers


def run(options: argparse.Namespace, context: Context) -> int:
    options.reader = context.units
    answer = CALCULATIONS[options.calculation].answer(options)
    if options.json:
        sheet.say_json(context, answer.figures)
    else:
        sheet.say(context, *answer.blocks(sheet.width(context), context.voice))
    return 0
