"""`fermwatch status`: how everything is, for a pipe, a screen reader or a dumb terminal.

With --exit-status, a script is told by 0 that all is well, and by 1 that something is not.
"""

import argparse

from fermwatch.commands import sheet
from fermwatch.commands.context import Context
from fermwatch.commands.mistaken import feed_of
from fermwatch.report.status import status_text
from fermwatch.saying import for_programs
from fermwatch.saying.headline import Urgency, headline
from fermwatch.saying.voice import Voice

NOT_WELL = 1


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="as JSON, with units in the names")
    parser.add_argument("--exit-status", action="store_true", help="exit with 1 unless all is well")


def run(options: argparse.Namespace, context: Context) -> int:
    feed = feed_of(context)
    try:
        snapshot = feed.snapshot(context.clock.now())
    finally:
        feed.close()
    if options.json:
        sheet.say_json(context, for_programs.status(snapshot))
    else:
        context.say(status_text(snapshot, context.width, ascii=context.ascii_only, units=context.units))
    well = headline(snapshot, Voice()).level is Urgency.WELL
    return NOT_WELL if options.exit_status and not well else 0
