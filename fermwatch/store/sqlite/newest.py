"""What is newest of a series: its last reading, or what a broker remembers of it; and readings that are not of now.

A reading that was stored while the machine's clock was ahead is of a time to come. It gives way to whatever comes in,
and once it is found out it is marked, so that it is neither shown nor judged when its time comes. Should the clock have
been right after all, the mark is taken off again.
"""

import sqlite3
from collections.abc import Iterable, Sequence
from datetime import timedelta

from fermwatch.clock import to_ms
from fermwatch.contracts.store import Latest
from fermwatch.model.reading import LITTLE_AHEAD, Reading
from fermwatch.store.sqlite import rollups
from fermwatch.store.sqlite.arrivals import ReadingRow

LITTLE_AHEAD_MS = LITTLE_AHEAD // timedelta(milliseconds=1)
MOST_MARKED = 200_000  # more of them, and it is rather now that is wrong
_ASIDE = 1 << 20  # of n: what comes in at the same instant when its time comes is another reading

READING, OF_A_TIME, OF_NO_TIME = 0, 1, 2  # latest.last_known: a reading; retained, with its time, or without any

_KEEP = """
INSERT INTO latest (series, at_ms, value, flags, last_known) VALUES (:series, :at_ms, :value, :flags, 0)
ON CONFLICT (series) DO UPDATE SET
at_ms = excluded.at_ms, value = excluded.value, flags = excluded.flags, last_known = excluded.last_known
WHERE excluded.at_ms >= latest.at_ms OR latest.last_known > 0 OR latest.at_ms > :received_ms
"""
# What was heard stays, unless it is older; what has no age of its own displaces only its like.
_KEEP_LAST_KNOWN = """
INSERT INTO latest (series, at_ms, value, flags, last_known) VALUES (:series, :at_ms, :value, :flags, :last_known)
ON CONFLICT (series) DO UPDATE SET
at_ms = excluded.at_ms, value = excluded.value, flags = excluded.flags, last_known = excluded.last_known
WHERE latest.last_known = 2 OR (excluded.last_known = 1 AND excluded.at_ms > latest.at_ms)
"""
# 32: Flag.AHEAD.
_OF_SERIES = (
    "SELECT at_ms, value, flags FROM reading WHERE series = ? AND flags & 32 = 0 ORDER BY at_ms DESC, n DESC LIMIT 1"
)
_COUNT_AHEAD = """
SELECT count(*) FROM (SELECT 1 FROM reading WHERE series = ? AND at_ms > ? AND flags & 32 = 0 LIMIT ?)
"""
_FARTHEST_ASIDE = "SELECT max(n) FROM reading WHERE series = ? AND at_ms > ?"
_MARK = "UPDATE reading SET flags = flags | 32, n = n + ? WHERE series = ? AND at_ms > ? AND flags & 32 = 0"
_MARKED = "SELECT at_ms FROM reading WHERE series = ? AND at_ms > ? AND at_ms <= ? AND flags & 32 != 0"
_TAKE_OFF = """
UPDATE OR IGNORE reading SET flags = flags & ~32, n = n % ?
WHERE series = ? AND at_ms > ? AND at_ms <= ? AND flags & 32 != 0
"""


def keep(connection: sqlite3.Connection, rows: Iterable[ReadingRow], readings: Sequence[Reading]) -> None:
    """The newest of the rows just stored, where it is newer than what was, or that was of a time to come."""
    received_ms = max((one.at_ms + one.lag_ms for one in readings), default=0) + LITTLE_AHEAD_MS
    newest = {row[0]: row for row in sorted(rows, key=lambda row: (row[1], row[2]))}
    for series, at_ms, _, value, _, _, flags in newest.values():
        said = {"series": series, "at_ms": at_ms, "value": value, "flags": flags, "received_ms": received_ms}
        connection.execute(_KEEP, said)


def keep_last_known(connection: sqlite3.Connection, latest: Iterable[Latest]) -> None:
    for one in latest:
        said = {"series": one.series, "at_ms": to_ms(one.at), "value": one.value, "flags": int(one.flags)}
        connection.execute(_KEEP_LAST_KNOWN, said | {"last_known": OF_A_TIME if one.age_known else OF_NO_TIME})


def mark_ahead(connection: sqlite3.Connection, series: Iterable[int], now_ms: int) -> dict[int, int | None]:
    """Mark what lies ahead of now; the series concerned, and the newest at_ms of each that does not."""
    limit_ms = now_ms + LITTLE_AHEAD_MS
    found: dict[int, int | None] = {}
    for number in series:
        (count,) = connection.execute(_COUNT_AHEAD, (number, limit_ms, MOST_MARKED + 1)).fetchone()
        if not 0 < count <= MOST_MARKED:
            continue
        (farthest,) = connection.execute(_FARTHEST_ASIDE, (number, limit_ms)).fetchone()
        aside = (farthest // _ASIDE + 1) * _ASIDE  # what was marked before, of the same instants, lies aside already
        connection.execute(_MARK, (aside, number, limit_ms))
        rollups.forget_from(connection, number, limit_ms)
        found[number] = _look_again(connection, number)
    return found


def take_off(connection: sqlite3.Connection, series: Iterable[int], after_ms: int, until_ms: int) -> dict[int, int]:
    """The clock that went from one instant to the other was behind before: what was marked between is of now after
    all. The series concerned, and the newest at_ms of each."""
    found: dict[int, int] = {}
    for number in series:
        span = (number, after_ms, until_ms)
        marked = [(number, at_ms) for (at_ms,) in connection.execute(_MARKED, span).fetchall()]
        if not marked:
            continue
        row = connection.execute(_OF_SERIES, (number,)).fetchone()
        before = {} if row is None else {number: row[0]}  # its spans were left open when what came after was marked
        connection.execute(_TAKE_OFF, (_ASIDE, *span))
        newest_ms = _look_again(connection, number)
        if newest_ms is not None:
            found[number] = newest_ms
            rollups.close_spans(connection, marked, before, {number: newest_ms})
    return found


def _look_again(connection: sqlite3.Connection, series: int) -> int | None:
    """Put the newest reading that is not marked into its place; its at_ms."""
    row = connection.execute(_OF_SERIES, (series,)).fetchone()
    connection.execute("DELETE FROM latest WHERE series = ? AND last_known = 0", (series,))
    if row is None:
        return None
    at_ms, value, flags = row
    said = {"series": series, "at_ms": at_ms, "value": value, "flags": flags, "received_ms": at_ms}
    connection.execute(_KEEP, said)
    return int(at_ms)
