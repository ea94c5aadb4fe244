"""The identity of a reading: what is stored as a new row, and what was stored before."""

import math
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from fermwatch.errors import StoreError
from fermwatch.model.reading import Reading

ReadingRow = tuple[int, int, int, float, int, int | None, int]  # series, at_ms, n, value, lag_ms, sequence, flags

_INSERT = "INSERT INTO reading (series, at_ms, n, value, lag_ms, sequence, flags) VALUES (?, ?, ?, ?, ?, ?, ?)"
_AT_INSTANT = "SELECT value, sequence FROM reading WHERE series = ? AND at_ms = ? ORDER BY n"
_INT64 = (1 << 63) - 1


@dataclass(slots=True)
class Arrivals:
    """A delivery sorted out: rows ahead of all that their series holds are new for certain, the others may not be.

    newest: at_ms of the newest reading per series that appears, once these are stored.
    """

    ahead: list[ReadingRow] = field(default_factory=list)
    behind: list[Reading] = field(default_factory=list)
    newest: dict[int, int] = field(default_factory=dict)


def sort_out(readings: Sequence[Reading], newest: Mapping[int, int | None]) -> Arrivals:
    """Split by the newest at_ms that each known series holds (None: nothing yet).

    Raises StoreError for a series that was never declared, or a value that is not a finite number.
    """
    found = Arrivals()
    heads = found.newest
    for reading in readings:
        series, at_ms, value = reading.series, reading.at_ms, reading.value
        if not math.isfinite(value):
            raise StoreError(f"A reading of series {series} is not a number: {value}.", hint="Screen it before.")
        head = heads.get(series)
        if head is None:
            if series not in newest:
                raise StoreError(f"There is no series {series}.", hint="Declare its probe first.")
            head = newest[series]
        if head is None or at_ms > head:
            heads[series] = at_ms
            sequence = reading.sequence
            if sequence is not None:
                sequence &= _INT64
            found.ahead.append((series, at_ms, 0, value, reading.lag_ms, sequence, int(reading.flags)))
        else:
            heads[series] = head
            found.behind.append(reading)
    return found


def store(connection: sqlite3.Connection, arrivals: Arrivals) -> list[ReadingRow]:
    """Insert what is new; the rows that were stored. Called within a transaction."""
    connection.executemany(_INSERT, arrivals.ahead)
    stored = arrivals.ahead
    if arrivals.behind:
        late = [row for reading in arrivals.behind if (row := _store_late(connection, reading)) is not None]
        stored = stored + late
    return stored


def _store_late(connection: sqlite3.Connection, reading: Reading) -> ReadingRow | None:
    sequence = None if reading.sequence is None else reading.sequence & _INT64
    there = connection.execute(_AT_INSTANT, (reading.series, reading.at_ms)).fetchall()
    if (reading.value, sequence) in there and _tells_itself_apart(reading):
        return None
    row = (
        reading.series,
        reading.at_ms,
        len(there),
        reading.value,
        reading.lag_ms,
        sequence,
        int(reading.flags),
    )
    connection.execute(_INSERT, row)
    return row


def _tells_itself_apart(reading: Reading) -> bool:
    """Whether an equal row must be this reading: with neither device time nor sequence, equals may well be two."""
    return reading.sequence is not None or reading.lag_ms != 0
