"""`fermwatch measure`: a gravity by hand. Shown corrected, with its uncertainty, before it is stored."""

import argparse

from fermwatch.commands.context import Context
from fermwatch.commands.measurements import entering, listing
from fermwatch.commands.measurements.typed import SCALES_C
from fermwatch.commands.parser import AsTyped


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.usage = (
        "fermwatch measure BATCH hydrometer|refractometer READING [options]\n"
        "       fermwatch measure list [BATCH] [--json]\n"
        "       fermwatch measure void IDENTITY [--reason TEXT] [--yes]"
    )
    parser.add_argument("batch", metavar="BATCH", help="identity, beginning of one, name or fermenter")
    parser.add_argument(
        "instrument", nargs="?", metavar="hydrometer|refractometer", help="what it was read with, or your name for it"
    )
    parser.add_argument("reading", nargs="?", metavar="READING", help="as read: 1.012, 3.1P, or 6.2Bx")
    parser.add_argument("--at", metavar="TIME", help='when: now, "21:30", "yesterday 21:30", "2026-03-09 18:30"')
    parser.add_argument("--yes", action="store_true", help="store it without asking")
    parser.add_argument("--even-so", action="store_true", help="with --yes: store it although it is doubted")
    parser.add_argument("--json", action="store_true", help="with list: as JSON")
    parser.add_argument("--reason", metavar="TEXT", help="with void: why")
    sample = parser.add_argument_group("sample")
    sample.add_argument(
        "--sample", "--temperature", action=AsTyped, metavar="23C", help="its temperature: the reading is corrected"
    )
    sample.add_argument("--degassed", action="store_true", help="stirred and poured until no gas was left in it")
    sample.add_argument("--water-check", metavar="READING", help="what this instrument reads in water of 20 °C")
    hydrometer = parser.add_argument_group("hydrometer")
    hydrometer.add_argument("--scale", metavar="|".join(SCALES_C), help="printed on it (20C)")
    refractometer = parser.add_argument_group("refractometer", "one that compensates needs no --sample temperature")
    refractometer.add_argument("--original-brix", metavar="12.4", help="what it read in the wort, before the yeast")
    refractometer.add_argument("--wort-factor", metavar="1.04", help="its wort correction factor")


def run(options: argparse.Namespace, context: Context) -> int:
    if options.batch == "list":
        return listing.list_measurements(options, context, options.instrument)
    if options.batch == "void":
        return listing.void(options, context, options.instrument)
    return entering.enter(options, context)
