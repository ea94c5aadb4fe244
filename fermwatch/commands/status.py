"""`fermwatch status`: how everything is, for a pipe, a screen reader or a dumb terminal."""

import argparse
import json

from fermwatch.commands.context import Context
from fermwatch.model.amounts import plain_data
from fermwatch.report.status import status_json, status_text
from fermwatch.store.feed import open_feed


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="as JSON, with units in the names")
    parser.add_argument("--units", choices=("metric", "us"), default="metric", help="°C and SG, or °F and SG")


def run(options: argparse.Namespace, context: Context) -> int:
    feed = open_feed(context.place.store, context.place.site)
    try:
        snapshot = feed.snapshot(context.clock.now())
    finally:
        feed.close()
    if options.json:
        context.say(json.dumps(plain_data(status_json(snapshot)), indent=2, ensure_ascii=False))
    else:
        context.say(status_text(snapshot, context.width, ascii=context.ascii_only, units=options.units))
    return 0
