"""Storing what was done to a batch or seen of it: shown, and confirmed where it changes what is concluded."""

import argparse
from collections.abc import Mapping, Sequence
from datetime import datetime

from fermwatch.commands import sheet
from fermwatch.commands.asking import ask, report
from fermwatch.commands.batches.showing import event_words
from fermwatch.commands.confirming import confirmed, refuse_doubted
from fermwatch.commands.context import Context
from fermwatch.commands.site import Site
from fermwatch.desk.asking import new_id
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.requests.shapes import Happened
from fermwatch.saying import words

# Each of these changes what may be concluded, and is asked about before it is stored.
ASKS_NOBODY = {EventKind.OBSERVATION, EventKind.NOTE, EventKind.REST, EventKind.RAMP, EventKind.BACK_TO_RANGE}
CONCLUSIVE = set(EventKind) - ASKS_NOBODY


def common_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--at", metavar="TIME", help='when: now, "21:30", "yesterday 21:30", "2026-03-09 18:30"')
    parser.add_argument("--yes", action="store_true", help="store it without asking")
    parser.add_argument("--even-so", action="store_true", help="with --yes: store it although it is doubted")


def event(
    context: Context, kind: EventKind, at: datetime, data: Mapping[str, float | str | bool], text: str = ""
) -> Event:
    return Event(new_id(context.clock.now()), at, kind, data, text)


def store(
    context: Context,
    site: Site,
    batch: Batch,
    event: Event,
    options: argparse.Namespace,
    cautions: Sequence[str] = (),
    doubts: Sequence[str] = (),
) -> int:
    """Show the event with its cautions, ask where it matters, and hand it to the watcher; the exit status.

    doubts: what speaks against it, so that a mere --yes does not store it.
    """
    size = sheet.width(context)
    said = event_words(event, site.now, site.voice)
    when = f"{words.moment(event.at, site.now, site.voice)} ({words.beer_day(batch.pitched_at, event.at, site.voice)})"
    early = [f"That is before {batch.name} was pitched."] if event.at < batch.pitched_at else []
    doubted = [site.voice.text(doubt) for doubt in (*doubts, *early)]
    told = [
        line
        for caution in (*cautions, *doubted)
        for line in sheet.paragraph(site.voice.text(caution, sheet.LONG), size, mark="! ")
    ]
    pairs = [("batch", site.voice.text(batch.name)), ("when", when), ("what", said)]
    sheet.say(context, sheet.rows(pairs, size), told)
    refuse_doubted(doubted, yes=options.yes, despite=options.even_so, option="--even-so")
    asked = event.kind in CONCLUSIVE or bool(doubted)
    if asked and not confirmed(context, f"Store it for {batch.name}?", yes=options.yes):
        return 1
    outcome = ask(context, Happened(batch.id, event))
    return report(context, outcome, f"Stored for {batch.name}, as {event.id}.")
