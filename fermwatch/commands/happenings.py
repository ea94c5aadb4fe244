"""Storing what was done to a batch or seen of it: shown, and confirmed where it changes what is concluded."""

import argparse
from collections.abc import Mapping
from datetime import datetime

from fermwatch.commands import sheet
from fermwatch.commands.asking import ask, report
from fermwatch.commands.confirming import confirmed, refuse_doubted
from fermwatch.commands.context import Context
from fermwatch.commands.site import Site
from fermwatch.desk.asking import new_id
from fermwatch.desk.happening import Noted
from fermwatch.model.batch import Event, EventKind
from fermwatch.saying import words
from fermwatch.saying.happened import event_words


def common_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--at", metavar="TIME", help='when: now, "21:30", "yesterday 21:30", "2026-03-09 18:30"')
    parser.add_argument("--yes", action="store_true", help="store it without asking")
    parser.add_argument("--even-so", action="store_true", help="with --yes: store it although it is doubted")


def event(
    context: Context, kind: EventKind, at: datetime, data: Mapping[str, float | str | bool], text: str = ""
) -> Event:
    return Event(new_id(context.clock.now()), at, kind, data, text)


def store(context: Context, site: Site, noted: Noted, options: argparse.Namespace) -> int:
    """Show the event with its cautions, ask where it matters, and hand it to the watcher; the exit status."""
    batch, event, size = noted.batch, noted.event, sheet.width(context)
    said = event_words(event, site.now, site.voice)
    when = f"{words.moment(event.at, site.now, site.voice)} ({words.beer_day(batch.pitched_at, event.at, site.voice)})"
    doubted = [site.voice.text(doubt) for doubt in noted.doubts]
    told = [
        line
        for caution in (*noted.cautions, *doubted)
        for line in sheet.paragraph(site.voice.text(caution, sheet.LONG), size, mark="! ")
    ]
    pairs = [("batch", site.voice.text(batch.name)), ("when", when), ("what", said)]
    sheet.say(context, sheet.rows(pairs, size), told)
    refuse_doubted(doubted, yes=options.yes, despite=options.even_so, option="--even-so")
    if noted.asks and not confirmed(context, f"Store it for {batch.name}?", yes=options.yes):
        return 1
    return report(context, ask(context, noted.asked()), f"Stored for {batch.name}, as {event.id}.")
