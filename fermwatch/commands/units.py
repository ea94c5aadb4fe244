"""`fermwatch units`: what numbers are said in, for the person who asks, kept until another choice."""

import argparse

from fermwatch.commands import sheet
from fermwatch.commands.context import Context
from fermwatch.config.preferences import save_units
from fermwatch.saying.voice import UNIT_WORDS, units_of

EXPLAINED = {
    "metric": "°C, SG, litres, bar",
    "us": "°F, SG, US gallons, ounces, psi",
    "celsius, fahrenheit": "temperature alone",
    "sg, plato": "gravity alone",
    "litres, us-gallons, imperial-gallons": "measures alone; a bare gallon is then that one",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.usage = "fermwatch units [WORD ...]"
    parser.add_argument(
        "wanted", nargs="*", metavar="WORD", help=f"{', '.join(UNIT_WORDS)}; several together, as `us plato`"
    )


def run(options: argparse.Namespace, context: Context) -> int:
    if options.wanted:
        units = units_of(" ".join(options.wanted), what="units")
        file = save_units(" ".join(units.words), context.environment)
        sheet.say(context, f"From now on: {units.named}. Kept in {file}.")
        return 0
    units, origin = context.chosen_units
    rows = sheet.rows(list(EXPLAINED.items()), sheet.width(context), label=36)
    sheet.say(
        context, f"Numbers are said in {units.named} ({origin}).", ["Change it with `fermwatch units WORD ...`:", *rows]
    )
    return 0
