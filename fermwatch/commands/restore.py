"""`fermwatch restore`: put a backup in the place of the store."""

import argparse
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from fermwatch.commands import sheet
from fermwatch.commands.backup import told
from fermwatch.commands.context import Context
from fermwatch.contracts.store import JournalEntry, Reader
from fermwatch.inbox.peeking import how_many_wait
from fermwatch.model.degree import Degree
from fermwatch.model.subject import About, kind_of
from fermwatch.text import clean

EVERY_LINE = 1_000_000_000  # of the journal


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.epilog = (
        "Stop the watcher first. What lay there before is kept beside it, under a name that is told. Every controller "
        "is only observed afterwards, whatever was armed when the backup was made."
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="what `fermwatch backup FILE` wrote")
    parser.add_argument(
        "--replace", action="store_true", help="also where the store holds something, which is kept aside"
    )


def run(options: argparse.Namespace, context: Context) -> int:
    now, file = context.clock.now(), options.file

    def entries(reader: Reader) -> Sequence[JournalEntry]:
        line = f"restored from {clean(file.name, 100)} by {context.user}"
        return [JournalEntry(now, "store", About.SITE.of("store"), line), *disarmed(reader, now, context.user)]

    restored = context.open_store().restore(file, now, replace=options.replace, entries=entries)
    sheet.tell(context, f"Restored from {file}: {told(restored.contents)}.")
    if restored.kept_aside:
        sheet.tell(context, f"What was there before lies in {restored.kept_aside}.")
    if waiting := how_many_wait(context.place.store, context.place.site):
        sheet.tell(
            context,
            f"{sheet.counted(waiting, 'request')} in the inbox will be carried out upon it once a watcher runs. "
            f"Look first where that may be wrong: {context.place.store / f'{context.place.site}.inbox'}",
        )
    sheet.tell(context, "Start the watcher again. What was asked and read since that backup was made is not in it.")
    return 0


def disarmed(reader: Reader, now: datetime, user: str) -> list[JournalEntry]:
    """To observe, for every controller of which a person once said more: a backup may be from before that was taken
    back."""
    said = reader.journal(limit=EVERY_LINE, kind="request")
    armed = dict.fromkeys(
        one.subject
        for one in reversed(said)
        if kind_of(one.subject) == About.CONTROLLER and one.text.partition(": by ")[0] in set(Degree)
    )
    return [
        JournalEntry(now, "request", subject, f"{Degree.OBSERVE}: by {user}, with the backup that was restored")
        for subject in armed
    ]
