"""What was done to a batch or seen of it, as it would stand."""

import argparse
from collections.abc import Mapping
from datetime import datetime

from fermwatch.commands import sheet
from fermwatch.commands.context import Context
from fermwatch.commands.site import Site
from fermwatch.desk.asking import new_id
from fermwatch.desk.happening import Noted
from fermwatch.desk.prepared import Prepared
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


def prepared(site: Site, noted: Noted) -> Prepared:
    """The event with its cautions, as it would stand."""
    batch, event, voice = noted.batch, noted.event, site.voice
    when = f"{words.moment(event.at, site.now, voice)} ({words.beer_day(batch.pitched_at, event.at, voice)})"
    doubts = tuple(voice.text(doubt) for doubt in noted.doubts)
    return Prepared(
        (("batch", voice.text(batch.name)), ("when", when), ("what", event_words(event, site.now, voice))),
        noted.asked(),
        f"Store it for {batch.name}?" if noted.asks else "",
        f"Stored for {batch.name}.",
        event.id,
        minded=tuple(voice.text(text, sheet.LONG) for text in (*noted.cautions, *doubts)),
        doubts=doubts,
    )
