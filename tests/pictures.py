"""The README's pictures, from the demo at a fixed seed and a fixed day: python -m tests.pictures FOLDER."""

import asyncio
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

from fermwatch.clock import SystemClock
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.still import still
from fermwatch.demo import running
from fermwatch.drawing.palette import ON_PAPER, ON_SLATE, Palette
from fermwatch.drawing.svg import picture
from fermwatch.feed import open_feed
from fermwatch.store import open_store
from fermwatch_sim.scenario import load

START = datetime(2026, 3, 11, 18, 0, tzinfo=UTC)
LATER = timedelta(hours=2)  # so that the fridge has begun to follow its plan
STEP, SPEED = timedelta(minutes=2), 600.0
SIZE = (110, 36)
PATIENCE_S = 120.0
PICTURES: tuple[tuple[str, str, str, Palette], ...] = (
    ("overview", "overview", "", ON_SLATE),
    ("fermenter", "fermenter", "left", ON_SLATE),
    ("fermenter-hot", "fermenter", "middle", ON_PAPER),
)


async def make(folder: Path) -> None:
    """Written while the demo runs: a watcher that was stopped would be told of."""
    with tempfile.TemporaryDirectory(prefix="fermwatch-pictures-") as place:
        ready = asyncio.Event()
        pace = running.Pace(STEP, SPEED, START + timedelta(days=2))
        told = running.Audience(ready=ready.set)
        demo = asyncio.create_task(running.run(load("demo"), Path(place), START, pace, told))
        try:
            await ready.wait()
            await asyncio.to_thread(partial(_draw_later, Path(place), folder))
        finally:
            demo.cancel()
            await asyncio.gather(demo, return_exceptions=True)


def _draw_later(place: Path, folder: Path) -> None:
    clock = SystemClock()
    until_s = clock.monotonic_s() + PATIENCE_S
    while not _has_come(place):
        if clock.monotonic_s() > until_s:
            raise TimeoutError(f"the demo has not come to {START + LATER}")
        time.sleep(0.5)
    _draw(place, folder)


def _has_come(place: Path) -> bool:
    with open_store(place.as_uri(), running.SITE).reader() as reader:
        watcher = reader.watcher()
        return watcher is not None and watcher.now >= START + LATER


def _draw(place: Path, folder: Path) -> None:
    feed = open_feed(open_store(place.as_uri(), running.SITE))
    try:
        for name, page, subject, palette in PICTURES:
            drawn = still(feed, Known(), page, subject, SIZE, SystemClock().now())
            folder.mkdir(parents=True, exist_ok=True)
            text = picture(drawn.lines, SIZE[0], f"fermwatch's demo: {page} {subject}".rstrip(), palette)
            (folder / f"{name}.svg").write_text(text, encoding="utf-8")
    finally:
        feed.close()


if __name__ == "__main__":
    asyncio.run(make(Path(sys.argv[1])))
