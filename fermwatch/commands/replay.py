"""`fermwatch replay`: what would have been said of a recorded log, and when."""

import argparse
from pathlib import Path

from fermwatch.commands.context import Context
from fermwatch.replaying.input import FORMATS


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.formatter_class, parser.epilog = argparse.RawDescriptionHelpFormatter, FORMATS
    parser.add_argument("log", type=Path, metavar="LOG.csv", help="time, probe, quantity, value: in order of arrival")
    parser.add_argument("--batch", type=Path, required=True, metavar="BATCH.toml", help="what was pitched, and events")
    parser.add_argument("--json", action="store_true", help="JSON Lines, one for each change")


def run(options: argparse.Namespace, context: Context) -> int:
    from fermwatch.replaying.replay import run as replay

    return replay(options.log, options.batch, options.json, context.say, context.voice)
