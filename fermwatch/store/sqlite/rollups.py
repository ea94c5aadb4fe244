"""Roll-ups: count, low, high and total of believable readings per 15 minutes, hour and day, so that any zoom is cheap.

A span is closed from the rows below it once, when a reading of a later span arrives; the open span is read from the
raw rows. A late reading closes its span again. Tables that hold the same readings therefore hold the same roll-ups,
in whatever order the readings came.
"""

import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from fermwatch.clock import from_ms
from fermwatch.contracts.store import Bucket

_MINUTE = 60_000
QUARTER_MS = 15 * _MINUTE
HOUR_MS = 60 * _MINUTE
DAY_MS = 24 * HOUR_MS

_RAW_SPAN_MS = 2 * DAY_MS  # up to here raw rows are few enough to be read as they are
_MOST_ROWS = 9_000  # of one series: about 3 ms

_CLOSE_QUARTER = """
INSERT OR REPLACE INTO quarter_hour (series, bucket, n, low, high, total)
SELECT series, :bucket, count(*), min(value), max(value), sum(value) FROM reading
WHERE series = :series AND at_ms >= :start AND at_ms < :end AND flags IN (0, 4) GROUP BY series
"""
_CLOSE_FROM_FINER = """
INSERT OR REPLACE INTO {table} (series, bucket, n, low, high, total)
SELECT series, :bucket, sum(n), min(low), max(high), sum(total) FROM {finer}
WHERE series = :series AND bucket >= :start AND bucket < :end GROUP BY series
"""
_CLOSE_HOUR = _CLOSE_FROM_FINER.format(table="hour", finer="quarter_hour")
_CLOSE_DAY = _CLOSE_FROM_FINER.format(table="day", finer="hour")

_READ_RAW = """
SELECT (at_ms - :origin) * :columns / :span AS slot, count(*), min(value), max(value), sum(value) FROM reading
WHERE series = :series AND at_ms >= :start AND at_ms < :end AND flags IN (0, 4) GROUP BY slot
"""
_READ_TIER = """
SELECT (bucket * {length} - :origin) * :columns / :span AS slot, sum(n), min(low), max(high), sum(total) FROM {table}
WHERE series = :series AND bucket >= :start AND bucket < :end GROUP BY slot
"""
_FORGET = "DELETE FROM {table} WHERE series = ? AND bucket >= ?"
# The flags by their numbers: 4 is an unsure clock, 32 a time that was ahead (model.reading.Flag).
_NEWEST = """
SELECT at_ms FROM reading WHERE series = ? AND flags & 32 = 0 ORDER BY at_ms DESC LIMIT 1
"""


@dataclass(frozen=True, slots=True)
class Tier:
    """One table of roll-ups, and the length of its spans."""

    table: str
    length_ms: int
    read: str
    forget: str


TIERS = tuple(
    Tier(
        table,
        length_ms,
        _READ_TIER.format(table=table, length=length_ms),
        _FORGET.format(table=table),
    )
    for table, length_ms in (("quarter_hour", QUARTER_MS), ("hour", HOUR_MS), ("day", DAY_MS))
)


def close_spans(
    connection: sqlite3.Connection,
    stored: Iterable[tuple[int, int]],
    before: Mapping[int, int],
    after: Mapping[int, int],
) -> None:
    """Close every span that is now over, and again those that late readings fell into.

    stored: (series, at_ms) of the rows just stored. before, after: the newest at_ms per series, then and now.
    """
    quarters = {(series, at_ms // QUARTER_MS) for series, at_ms in stored}
    quarters |= {(series, before[series] // QUARTER_MS) for series in after if series in before}
    quarters = {(series, quarter) for series, quarter in quarters if quarter < after[series] // QUARTER_MS}
    if not quarters:
        return
    for series, quarter in sorted(quarters):
        start = quarter * QUARTER_MS
        span = {"series": series, "bucket": quarter, "start": start, "end": start + QUARTER_MS}
        connection.execute(_CLOSE_QUARTER, span)
    hours = _close_coarser(connection, _CLOSE_HOUR, quarters, 4, {s: at // HOUR_MS for s, at in after.items()})
    _close_coarser(connection, _CLOSE_DAY, hours, 24, {s: at // DAY_MS for s, at in after.items()})


def _close_coarser(
    connection: sqlite3.Connection,
    statement: str,
    finer: set[tuple[int, int]],
    ratio: int,
    open_bucket: Mapping[int, int],
) -> set[tuple[int, int]]:
    coarser = {(series, bucket // ratio) for series, bucket in finer}
    over = {(series, bucket) for series, bucket in coarser if bucket < open_bucket[series]}
    for series, bucket in sorted(over):
        span = {"series": series, "bucket": bucket, "start": bucket * ratio, "end": (bucket + 1) * ratio}
        connection.execute(statement, span)
    return over


def forget_from(connection: sqlite3.Connection, series: int, at_ms: int) -> None:
    """Drop every span that reaches past an instant: what is left in it is read from the rows, and closed again."""
    for tier in TIERS:
        connection.execute(tier.forget, (series, at_ms // tier.length_ms))


@dataclass(frozen=True, slots=True)
class Grid:
    """`columns` equal spans over [start_ms, end_ms)."""

    start_ms: int
    end_ms: int
    columns: int

    @property
    def span_ms(self) -> int:
        return self.end_ms - self.start_ms

    def at_ms(self, slot: int) -> int:
        """Where column `slot` begins: the first millisecond that falls into it."""
        return self.start_ms - (-slot * self.span_ms // self.columns)


def tier_for(grid: Grid) -> Tier | None:
    """The finest tier whose rows are few enough; None for the raw rows."""
    if grid.span_ms <= _RAW_SPAN_MS and grid.span_ms < grid.columns * QUARTER_MS:
        return None
    for tier in TIERS:
        if grid.span_ms <= tier.length_ms * _MOST_ROWS:
            return tier
    return TIERS[-1]


def read_buckets(
    connection: sqlite3.Connection, series: int, grid: Grid, part: tuple[int, int] | None = None
) -> list[Bucket]:
    """What falls into each column of the grid, within `part` (start, end) of it; columns without readings are left out.

    A row of the tier goes whole into the column in which it begins.
    """
    start_ms, end_ms = part or (grid.start_ms, grid.end_ms)
    row = connection.execute(_NEWEST, (series,)).fetchone()
    if row is None or start_ms >= end_ms:
        return []
    newest: int = row[0]
    found: dict[int, Bucket] = {}
    for statement, start, end in _pieces(tier_for(grid), start_ms, min(end_ms, newest + 1), newest):
        span = {"series": series, "start": start, "end": end}
        span |= {"origin": grid.start_ms, "columns": grid.columns, "span": grid.span_ms}
        for slot, count, low, high, total in connection.execute(statement, span).fetchall():
            bucket = Bucket(from_ms(grid.at_ms(slot)), count, low, high, total / count)
            found[slot] = found[slot].joined(bucket) if slot in found else bucket
    return [found[slot] for slot in sorted(found)]


def _pieces(tier: Tier | None, start_ms: int, end_ms: int, newest_ms: int) -> Iterator[tuple[str, int, int]]:
    """(statement, start, end) that cover [start, end) exactly: whole closed spans of the tier, the rest from finer."""
    if start_ms >= end_ms:
        return
    if tier is None:
        yield _READ_RAW, start_ms, end_ms
        return
    finer = None if tier is TIERS[0] else TIERS[TIERS.index(tier) - 1]
    first = -(-start_ms // tier.length_ms)
    last = min(end_ms, newest_ms) // tier.length_ms  # the span of the newest reading is open
    if first >= last:
        yield from _pieces(finer, start_ms, end_ms, newest_ms)
        return
    yield from _pieces(finer, start_ms, first * tier.length_ms, newest_ms)
    yield tier.read, first, last
    yield from _pieces(finer, last * tier.length_ms, end_ms, newest_ms)
