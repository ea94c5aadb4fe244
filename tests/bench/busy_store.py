"""A store under load, for what is measured beside it: python -m tests.bench.busy_store DIRECTORY writes a thousand
readings a second until it is killed; `zooms` reads and draws a year of one beer.
"""

import itertools
import math
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from fermwatch.clock import SystemClock, to_ms
from fermwatch.contracts.feed import Snapshot
from fermwatch.contracts.store import WatcherStatus, Writer
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.fermenter import Fermenter
from fermwatch.feed import open_feed
from fermwatch.model.batch import Batch
from fermwatch.model.probe import Probe, Vessel
from fermwatch.model.quantity import CANONICAL_UNIT, Quantity
from fermwatch.model.reading import Reading
from fermwatch.store import open_store
from tests.dashboard.snapshots import ALE

FERMENTERS, A_SECOND, AT_A_TIME = 12, 1000, 50
KINDS = (Quantity.BEER_TEMPERATURE, Quantity.GRAVITY, Quantity.SET_POINT)
YEAR, QUARTER = timedelta(days=365), timedelta(minutes=15)


def declared(writer: Writer, now: datetime) -> list[int]:
    vessels = [Vessel(f"f{number}", f"Fermenter {number}", 20.0) for number in range(FERMENTERS)]
    probes = [
        Probe(f"{one.slug}-{kind}", one.slug, kind, "board", f"{one.slug}-{kind}", CANONICAL_UNIT[kind])
        for one in vessels
        for kind in KINDS
    ]
    series = writer.declare("UTC", vessels, probes, now)
    return [series[one.slug] for one in probes]


def value(place: int, at_s: float) -> float:
    kind = KINDS[place % len(KINDS)]
    moves = math.sin(at_s / 7.0 + place)
    return 1.03 + 0.003 * moves if kind is Quantity.GRAVITY else 19.0 + 0.5 * moves


def write_on(place: Path) -> None:
    clock = SystemClock()
    began = clock.now()
    with open_store(place.as_uri(), "home").writer(began) as writer:
        series = declared(writer, began)
        count, started = 0, clock.monotonic_s()
        for turn in itertools.count():
            now = clock.now()
            places = [(turn * AT_A_TIME + number) % len(series) for number in range(AT_A_TIME)]
            rows = [
                Reading(series[one], to_ms(now) - AT_A_TIME + number, value(one, now.timestamp()))
                for number, one in enumerate(places)
            ]
            count += writer.append(rows).stored
            writer.beat(WatcherStatus("0", 1, began, now, now, now, count))
            if turn == 0:
                sys.stdout.write("ready\n")
                sys.stdout.flush()
            time.sleep(max(started + (turn + 1) * AT_A_TIME / A_SECOND - clock.monotonic_s(), 0.0))


def zooms(times: int = 9) -> Iterator[float]:
    """Milliseconds of a processor for each: the store's answer to a window of a year, and the page drawn from it."""
    clock = SystemClock()
    now = clock.now()
    with tempfile.TemporaryDirectory() as folder:
        store = open_store(Path(folder).as_uri(), "home")
        with store.writer(now - YEAR) as writer:
            series = declared(writer, now - YEAR)[: len(KINDS)]
            instants = [now - YEAR + number * QUARTER for number in range(int(YEAR / QUARTER))]
            for place, one in enumerate(series):
                writer.append([Reading(one, to_ms(at), value(place, at.timestamp())) for at in instants])
            writer.beat(WatcherStatus("0", 1, now, now, now, now, 1))
        feed = open_feed(store)
        page, known = Fermenter("f0"), Known(snapshot=year_old(feed.snapshot(now)))
        for _ in range(times):
            started = time.process_time()
            answered = known
            for query in page.wants(known):
                answered = answered.with_answer(feed.answer(query, now))
            page.draw(answered, 119, 40)
            yield (time.process_time() - started) * 1000.0
        feed.close()


def year_old(snapshot: Snapshot) -> Snapshot:
    """With a beer in the first fermenter that was pitched a year ago, so that all of it is one window."""
    lane, *others = snapshot.lanes
    beer = Batch("year", "A year", lane.vessel.slug, 1.05, snapshot.now - YEAR, 20.0, ALE)
    return replace(snapshot, lanes=(replace(lane, batch=beer), *others))


if __name__ == "__main__":
    write_on(Path(sys.argv[1]))
