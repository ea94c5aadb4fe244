"""`fermwatch snapshot`: any page of the dashboard as it is now, as text or as a picture, without a terminal."""

import argparse
import re
from pathlib import Path

from fermwatch.commands.context import Context
from fermwatch.commands.mistaken import feed_of
from fermwatch.contracts.feed import Snapshot
from fermwatch.errors import InputError

PAGES = (
    "overview",
    "fermenter",
    "controller",
    "packages",
    "batch",
    "batches",
    "beside",
    "bottling",
    "alarms",
    "health",
)
COLOURS = ("dark", "light")
SMALLEST, LARGEST = (20, 5), (400, 200)
_SIZE = re.compile(r"(\d{1,4})x(\d{1,4})")


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("page", choices=PAGES, metavar="PAGE", help=", ".join(PAGES))
    parser.add_argument("--fermenter", metavar="NAME", help="which one it is about; without it, the first")
    parser.add_argument("--size", default="120x40", metavar="COLUMNSxROWS", help="120x40 without it")
    parser.add_argument("--svg", type=Path, metavar="FILE", help="a picture, written there, in place of text")
    parser.add_argument("--theme", choices=COLOURS, default="dark", help="colours of the picture; dark without it")


def run(options: argparse.Namespace, context: Context) -> int:
    from fermwatch.dashboard.known import Known
    from fermwatch.dashboard.still import still
    from fermwatch.drawing.lines import plain

    size, now = _size(options.size), context.clock.now()
    feed = feed_of(context)
    try:
        subject = _subject(options.fermenter, feed.snapshot(now))
        ascii_only = context.ascii_only and options.svg is None
        drawn = still(feed, Known(ascii=ascii_only, units=context.units), options.page, subject, size, now)
    finally:
        feed.close()
    if options.svg is None:
        context.say("\n".join(plain(line) for line in drawn.lines))
        return 0
    from fermwatch.drawing.palette import ON_PAPER, ON_SLATE
    from fermwatch.drawing.svg import picture

    title = f"fermwatch, {options.page}{f' of {subject}' if subject else ''}"
    text = picture(drawn.lines, size[0], title, ON_PAPER if options.theme == "light" else ON_SLATE)
    try:
        options.svg.write_text(text, encoding="utf-8")
    except OSError as error:
        hint = "Name a file that you may write."
        raise InputError(f"{options.svg} cannot be written: {error.strerror}.", hint=hint) from error
    return 0


def _size(said: str) -> tuple[int, int]:
    found = _SIZE.fullmatch(said)
    size = (int(found[1]), int(found[2])) if found else (0, 0)
    if not all(least <= one <= most for one, least, most in zip(size, SMALLEST, LARGEST, strict=True)):
        least, most = ("x".join(map(str, edge)) for edge in (SMALLEST, LARGEST))
        raise InputError(f"{said!r:.20} is no size.", hint=f"Columns and rows, as 120x40: from {least} to {most}.")
    return size


def _subject(said: str | None, snapshot: Snapshot) -> str:
    """The fermenter of a name or an identity; the first one where nothing is said."""
    vessels = [lane.vessel for lane in snapshot.lanes]
    if said is None:
        return vessels[0].slug if vessels else ""
    wanted = said.strip().casefold()
    for one in vessels:
        if wanted in {one.slug.casefold(), one.name.casefold()}:
            return one.slug
    listed = ", ".join(one.slug for one in vessels) or "none"
    raise InputError(f"There is no fermenter {said!r:.60}.", hint=f"There is: {listed}.")
