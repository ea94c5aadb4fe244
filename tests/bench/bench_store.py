"""The store beside bare SQLite in the same run: durable inserts, bytes kept per reading, and queries of history.

Aims: at least 0.6 times the speed of a bare table of the same shape, both fully synced, 100 rows at a time; at most 38
bytes per reading with its roll-ups; a fortnight and a year in 300 columns at most 0.15 and 0.05 times as long as
GROUP BY on the raw rows.
"""

import shutil
import sqlite3
import statistics
import sys
import tempfile
import time
import timeit
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

from fermwatch.clock import to_ms
from fermwatch.contracts.store import Writer
from fermwatch.model.probe import Probe, Vessel
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.model.reading import Reading
from tests.support.stores import open_feed, open_writer

START = datetime(2026, 1, 1, tzinfo=UTC)
START_MS = to_ms(START)
MINUTE_MS = 60_000
SERIES = 50
BATCH = 100
ROUNDS = 7
BATCHES = 100  # per round
YEAR_MINUTES = 365 * 24 * 60

VESSELS = tuple(Vessel(f"v{n}", f"Vessel {n}", 20.0) for n in range(12))
PROBES = tuple(
    Probe(f"p{n}", f"v{n % 12}", Quantity.BEER_TEMPERATURE, "board", str(n), Unit.CELSIUS) for n in range(SERIES)
)
BARE_TABLE = """
CREATE TABLE reading (series INTEGER NOT NULL, at_ms INTEGER NOT NULL, value REAL NOT NULL, PRIMARY KEY (series, at_ms))
WITHOUT ROWID
"""
GROUP_BY_RAW = """
SELECT (at_ms - :start) * 300 / :span AS slot, count(*), min(value), max(value), avg(value) FROM reading
WHERE series = 1 AND at_ms >= :start AND at_ms < :start + :span GROUP BY slot
"""


@contextmanager
def workplace() -> Iterator[Path]:
    directory = Path(tempfile.mkdtemp(prefix="bench-store-", dir="/var/tmp"))  # a true disk: /tmp may be memory
    try:
        yield directory
    finally:
        shutil.rmtree(directory)


def value(series: int, minute: int) -> float:
    return 18.0 + series / 10 + (minute * 7919 % 64) / 32


def batches_of(first: int) -> list[list[Reading]]:
    """A round's batches: 50 series interleaved, one reading a minute each."""
    rows = [
        Reading(1 + n % SERIES, START_MS + (first + n // SERIES) * MINUTE_MS, value(n % SERIES, first + n // SERIES))
        for n in range(BATCH * BATCHES)
    ]
    return [rows[start : start + BATCH] for start in range(0, len(rows), BATCH)]


def open_bare(directory: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(directory / "bare.db", isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute(BARE_TABLE)
    return connection


def insert_bare(connection: sqlite3.Connection, batches: Sequence[Sequence[tuple[int, int, float]]]) -> None:
    for batch in batches:
        connection.execute("BEGIN IMMEDIATE")
        connection.executemany("INSERT INTO reading VALUES (?, ?, ?)", batch)
        connection.execute("COMMIT")


def insert_through_the_store(writer: Writer, batches: Sequence[Sequence[Reading]]) -> None:
    for batch in batches:
        writer.append(batch)


def taken(work: Callable[[], None]) -> tuple[float, float]:
    """Seconds on the wall, waiting for the disk included, and seconds of the processor."""
    wall_s, cpu_s = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - wall_s, time.process_time() - cpu_s


def insert_lines() -> list[str]:
    bare_s, store_s = [], []
    with workplace() as directory, open_writer(directory, "home", START) as writer:
        writer.declare("UTC", VESSELS, PROBES, START)
        bare = open_bare(directory)
        for round_ in range(ROUNDS):
            batches = batches_of(round_ * BATCH * BATCHES // SERIES)
            rows = [[(row.series, row.at_ms, row.value) for row in batch] for batch in batches]
            bare_s.append(taken(partial(insert_bare, bare, rows)))
            store_s.append(taken(partial(insert_through_the_store, writer, batches)))
        bare.close()
    rounds = list(zip(bare_s, store_s, strict=True))
    wall, cpu = (statistics.median(one[kind] / other[kind] for one, other in rounds) for kind in (0, 1))
    rate, bare_rate = (BATCH * BATCHES / statistics.median(each[0] for each in done) for done in (store_s, bare_s))
    return [
        f"durable inserts, {BATCH} at a time: {rate:,.0f}/s, bare table {bare_rate:,.0f}/s: {wall:.2f} times (aim 0.6)",
        f"the same by processor time alone, as if the disk took none: {cpu:.2f} times",
    ]


def fill_a_year(writer: Writer, series: int) -> int:
    """One reading a minute for a year; how many."""
    for start in range(0, YEAR_MINUTES, 20_000):
        minutes = range(start, min(start + 20_000, YEAR_MINUTES))
        writer.append([Reading(series, START_MS + n * MINUTE_MS, value(series, n), n % 50) for n in minutes])
    return YEAR_MINUTES


def median_ms(work: Callable[[], object]) -> float:
    return 1000 * statistics.median(timeit.repeat(work, number=1, repeat=9))


def history_lines() -> list[str]:
    lines = []
    with workplace() as directory:
        with open_writer(directory, "home", START) as writer:
            writer.declare("UTC", VESSELS, PROBES, START)
            count = sum(fill_a_year(writer, series) for series in (1, 2))
        size = (directory / "home.db").stat().st_size
        lines.append(f"bytes kept per reading, roll-ups and free space included: {size / count:.1f} (aim 38)")
        with open_writer(directory, "home", START) as writer:
            lines.append(f"bytes per reading once packed by VACUUM: {packed(directory) / count:.1f}")
            for days, aim in ((14, 0.15), (365, 0.05)):
                lines.append(history_line(writer, directory, days, aim))
        lines.append(snapshot_line(directory))
    return lines


def beside(directory: Path) -> closing[sqlite3.Connection]:
    """A connection of another program, as fast as ours."""
    return closing(sqlite3.connect(directory / "home.db", isolation_level=None))


def packed(directory: Path) -> int:
    copy = directory / "packed.db"
    with beside(directory) as connection:
        connection.execute("VACUUM INTO ?", (str(copy),))
    return copy.stat().st_size


def history_line(writer: Writer, directory: Path, days: int, aim: float) -> str:
    end = START + timedelta(days=365)
    start = end - timedelta(days=days)
    span = {"start": to_ms(start), "span": days * 86_400_000}
    ours = median_ms(lambda: writer.buckets(1, start, end, 300))
    with beside(directory) as connection:
        raw = median_ms(lambda: connection.execute(GROUP_BY_RAW, span).fetchall())
    return (
        f"{days} days in 300 columns: {ours:.2f} ms, GROUP BY on raw {raw:.1f} ms: {ours / raw:.3f} times (aim {aim})"
    )


def snapshot_line(directory: Path) -> str:
    feed = open_feed(directory, "home")
    took = median_ms(lambda: feed.snapshot(START + timedelta(days=365)))
    feed.close()
    return f"a picture of {len(VESSELS)} vessels and {SERIES} probes: {took:.1f} ms"


def report() -> str:
    """Every figure, one a line."""
    return "\n".join([*insert_lines(), *history_lines()])


if __name__ == "__main__":
    sys.stdout.write(report() + "\n")
