"""`fermwatch backup`: a copy of the store in one file, made while the watcher goes on, and read back."""

import argparse
from datetime import datetime
from pathlib import Path

from fermwatch.commands import sheet
from fermwatch.commands.context import Context
from fermwatch.contracts.backup import Contents
from fermwatch.inbox.peeking import how_many_wait
from fermwatch.model.amounts import instant


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.epilog = "It holds all that the store holds, and not the configuration: keep a copy of that too."
    parser.add_argument(
        "file", type=Path, metavar="FILE", help="the new file; or a directory, for a name with the site and the time"
    )


def run(options: argparse.Namespace, context: Context) -> int:
    target = named(options.file, context.place.site, context.clock.now())
    contents = context.open_store().back_up(target)
    sheet.tell(
        context, f"Backed up to {target} ({target.stat().st_size / 1e6:.1f} MB), and read back: {told(contents)}."
    )
    if waiting := how_many_wait(context.place.store, context.place.site):
        sheet.tell(context, f"What waits in the inbox is not in it: {sheet.counted(waiting, 'request')}.")
    return 0


def named(said: Path, site: str, now: datetime) -> Path:
    return said / f"{site}-{now:%Y%m%dT%H%M%SZ}.db" if said.is_dir() else said


def told(contents: Contents) -> str:
    """What a backup holds, in a line."""
    until = "" if contents.until is None else f" until {instant(contents.until)}"
    things = (
        (contents.batches, "batch", "batches"),
        (contents.measurements, "measurement", "measurements"),
        (contents.events, "event", "events"),
        (contents.journal, "line of the journal", "lines of the journal"),
    )
    parts = [f"{sheet.counted(contents.readings, 'reading')}{until}"]
    parts += [f"{count} {one if count == 1 else many}" for count, one, many in things]
    return f"{', '.join(parts)}; schema {contents.schema}"
