"""The reading side of a store: short reads, each one consistent, that never write and never hold anybody up."""

import contextlib
import os
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

from fermwatch.access import no_access
from fermwatch.clock import from_ms, to_ms
from fermwatch.contracts.inbox import Outcome, OutcomeState
from fermwatch.contracts.store import Bucket, JournalEntry, Latest, Series, SourceStatus, WatcherStatus
from fermwatch.errors import StoreError, UnreadableRow
from fermwatch.model import event_data
from fermwatch.model.batch import LEAST_SD_POINTS, Batch, Event, GravityMeasurement
from fermwatch.model.finding import Alarm
from fermwatch.model.judgement import Judgement
from fermwatch.model.probe import Binding, Calibration, Probe, Vessel
from fermwatch.model.reading import Flag, Reading
from fermwatch.plain_data import Malformed, from_text
from fermwatch.store.sqlite import newest, rollups
from fermwatch.store.sqlite.connection import connect_reader, errors_in_words, one_view, store_file
from fermwatch.store.sqlite.presence import Presence
from fermwatch.store.sqlite.schema import check_readable
from fermwatch.text import clean

ValueT = TypeVar("ValueT")
SaidT = TypeVar("SaidT", GravityMeasurement, Event)

_SITE = "SELECT site, timezone FROM site WHERE site = ?"
_WATCHER = "SELECT watcher FROM watcher WHERE site = ?"
_VESSELS = """
SELECT vessel FROM vessel AS v WHERE site = ?
AND (configured OR EXISTS (SELECT 1 FROM batch AS b WHERE b.site = v.site AND b.vessel = v.slug AND NOT b.ended
    AND b.packaged_at_ms IS NULL))
ORDER BY configured DESC, position, slug
"""
_SERIES = """
SELECT series, probe FROM series WHERE site = ? AND (configured OR ?) ORDER BY configured DESC, position, series
"""
_BINDINGS = """
SELECT series, vessel, "offset", factor, valid_from_ms FROM binding
WHERE series IN (SELECT series FROM series WHERE site = ?) ORDER BY series, valid_from_ms
"""
_LATEST = """
SELECT series, at_ms, value, flags, last_known FROM latest WHERE series IN (SELECT series FROM series WHERE site = ?)
"""
_READINGS = """
SELECT at_ms, value, lag_ms, sequence, flags FROM reading
WHERE series = ? AND at_ms >= ? AND at_ms < ? ORDER BY at_ms, n
"""
_LAST_GOOD = """
SELECT at_ms, value, flags FROM reading WHERE series = ? AND at_ms >= ? AND at_ms < ? AND flags IN (0, 4)
ORDER BY at_ms DESC, n DESC LIMIT 1
"""
_LAST_GOOD_QUARTER = "SELECT max(bucket) FROM quarter_hour WHERE series = ?"
_BATCHES = "SELECT batch FROM batch WHERE site = ? AND (? OR NOT ended) ORDER BY pitched_at_ms, id"
_OPEN_BATCHES = "SELECT id FROM batch WHERE site = ? AND NOT ended ORDER BY pitched_at_ms, id"
_BATCH = "SELECT batch FROM batch WHERE site = ? AND id = ?"
_MEASUREMENTS = "SELECT id, measurement, voided FROM measurement WHERE site = ? AND batch = ? ORDER BY at_ms, id"
_EVENTS = "SELECT id, event, voided FROM event WHERE site = ? AND batch = ? ORDER BY at_ms, id"
_ALARMS = "SELECT alarm FROM alarm WHERE site = ? ORDER BY rule, subject"
_SOURCES = "SELECT source FROM source WHERE site = ? ORDER BY name"
_JUDGEMENT = "SELECT judgement FROM judgement WHERE site = ? AND batch = ?"
_JOURNAL = """
SELECT at_ms, kind, subject, text FROM journal
WHERE site = :site AND (:kind = '' OR kind = :kind) AND (:subject = '' OR subject = :subject)
ORDER BY id DESC LIMIT :limit
"""
_OUTCOME = "SELECT request, state, reason, at_ms FROM outcome WHERE site = ? AND request = ?"


_RECENT_MS = 2 * rollups.HOUR_MS


def open_reader(directory: Path, site: str) -> "SqliteReader":
    """A reader of the site's store.

    Raises StoreError where there is none, StoreForbidden for who may not read it, StoreVersion where it is of another.
    """
    file = store_file(directory, site)
    _check_may_be_read(file)
    connection = connect_reader(file)
    reader = SqliteReader(connection, file, site)
    try:
        with errors_in_words(file):
            check_readable(connection, file)
    except StoreError:
        connection.close()
        raise
    return reader


def _check_may_be_read(file: Path) -> None:
    """StoreError where there is none, StoreForbidden for who may not read it."""
    try:
        file.stat()
    except PermissionError:
        raise no_access(file.parent, "read") from None
    except OSError:
        hint = "Start `fermwatch watch` once, or try `fermwatch demo`."
        raise StoreError(f"There is no store at {file}.", hint=hint) from None
    if not os.access(file, os.R_OK, effective_ids=True):
        raise no_access(file, "read")


class SqliteReader:
    """contracts.store.Reader over SQLite. Used by one thread at a time."""

    def __init__(self, connection: sqlite3.Connection, file: Path, site: str) -> None:
        self._connection, self._file, self._site = connection, file, site
        self._seen: tuple[int, int] | None = None
        self._presence = Presence([file])
        self._misread: dict[str, str] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        self.close()

    def changed(self) -> bool:
        self._presence.check()
        (version,) = self._rows("PRAGMA data_version")[0]
        seen = (version, self._connection.total_changes)
        before, self._seen = self._seen, seen
        return seen != before

    def site(self) -> tuple[str, str]:
        rows = self._rows(_SITE, self._site)
        if not rows:
            raise StoreError(f"{self._file} holds nothing of the site {self._site}.", hint="Start `fermwatch watch`.")
        slug, timezone = rows[0]
        return slug, timezone

    def watcher(self) -> WatcherStatus | None:
        return self._one(WatcherStatus, _WATCHER)

    def vessels(self) -> tuple[Vessel, ...]:
        """Those configured, in the configuration's order; then any other that still holds an open batch."""
        return self._many(Vessel, _VESSELS)

    def series(self, *, every: bool = False) -> tuple[Series, ...]:
        rows = self._rows(_SERIES, self._site, every)
        return tuple(Series(number, self._value(Probe, text)) for number, text in rows)

    def bindings(self) -> tuple[Binding, ...]:
        return tuple(
            Binding(series, vessel, Calibration(offset, factor), from_ms(valid_from_ms))
            for series, vessel, offset, factor, valid_from_ms in self._rows(_BINDINGS, self._site)
        )

    def latest(self) -> Mapping[int, Latest]:
        return {
            series: Latest(series, from_ms(at_ms), value, Flag(flags), last_known > 0, last_known != newest.OF_NO_TIME)
            for series, at_ms, value, flags, last_known in self._rows(_LATEST, self._site)
        }

    def last_good(self, last: Latest) -> Latest | None:
        """The last reading of the series before its newest one that can be believed.

        Beyond the last hours the roll-ups, which hold good readings only, say where to look: a probe that has been
        broken for months costs no more than one that broke today.
        """
        series, before_ms = last.series, to_ms(last.at) + 1
        return self._good_within(series, before_ms - _RECENT_MS, before_ms) or self._good_rolled_up(series)

    def _good_rolled_up(self, series: int) -> Latest | None:
        bucket = self._rows(_LAST_GOOD_QUARTER, series)[0][0]
        if bucket is None:
            return None
        return self._good_within(series, bucket * rollups.QUARTER_MS, (bucket + 1) * rollups.QUARTER_MS)

    def _good_within(self, series: int, start_ms: int, end_ms: int) -> Latest | None:
        rows = self._rows(_LAST_GOOD, series, start_ms, end_ms)
        return Latest(series, from_ms(rows[0][0]), rows[0][1], Flag(rows[0][2])) if rows else None

    def readings(self, series: int, start: datetime, end: datetime) -> Sequence[Reading]:
        return [
            Reading(series, at_ms, value, lag_ms, sequence, Flag(flags))
            for at_ms, value, lag_ms, sequence, flags in self._rows(_READINGS, series, to_ms(start), to_ms(end))
        ]

    def buckets(
        self,
        series: int,
        start: datetime,
        end: datetime,
        columns: int,
        within: tuple[datetime, datetime] | None = None,
    ) -> Sequence[Bucket]:
        grid = rollups.Grid(to_ms(start), to_ms(end), columns)
        part = None if within is None else (to_ms(within[0]), to_ms(within[1]))
        if grid.columns < 1 or grid.span_ms <= 0:
            return []
        with errors_in_words(self._file), one_view(self._connection):
            return rollups.read_buckets(self._connection, series, grid, part)

    def batches(self, *, ended: bool = False) -> tuple[Batch, ...]:
        return self._many(Batch, _BATCHES, ended)

    def open_batches(self) -> tuple[str, ...]:
        """Their identities, oldest pitch first."""
        return tuple(identity for (identity,) in self._rows(_OPEN_BATCHES, self._site))

    def batch(self, batch_id: str) -> Batch | None:
        return self._one(Batch, _BATCH, batch_id)

    def measurements(self, batch_id: str, *, strict: bool = True) -> tuple[GravityMeasurement, ...]:
        """In time order, voided ones too. Raises UnreadableRow, or, not `strict`, leaves out what cannot be read."""
        rows = self._rows(_MEASUREMENTS, self._site, batch_id)
        read = (self._said(_measurement, identity, text, bool(voided), strict) for identity, text, voided in rows)
        return tuple(one for one in read if one is not None)

    def events(self, batch_id: str, *, strict: bool = True) -> tuple[Event, ...]:
        """In time order, voided ones too. Raises UnreadableRow, or, not `strict`, leaves out what cannot be read."""
        rows = self._rows(_EVENTS, self._site, batch_id)
        read = (self._said(_event, identity, text, bool(voided), strict) for identity, text, voided in rows)
        return tuple(one for one in read if one is not None)

    def misread(self) -> Mapping[str, str]:
        """What could not be read of the measurements and events asked for until now: identity -> why."""
        return self._misread

    def alarms(self) -> tuple[Alarm, ...]:
        """Every alarm that has a state to keep, in whatever condition, by rule and subject."""
        return self._many(Alarm, _ALARMS)

    def sources(self) -> tuple[SourceStatus, ...]:
        return self._many(SourceStatus, _SOURCES)

    def judgement(self, batch_id: str) -> Judgement | None:
        return self._one(Judgement, _JUDGEMENT, batch_id)

    def journal(self, *, limit: int = 50, kind: str = "", subject: str = "") -> tuple[JournalEntry, ...]:
        """The newest first."""
        wanted = {"site": self._site, "kind": kind, "subject": subject, "limit": limit}
        with errors_in_words(self._file):
            rows = self._connection.execute(_JOURNAL, wanted).fetchall()
        return tuple(JournalEntry(from_ms(at_ms), *words) for at_ms, *words in rows)

    def outcome(self, request_id: str) -> Outcome | None:
        rows = self._rows(_OUTCOME, self._site, request_id)
        return Outcome(rows[0][0], OutcomeState(rows[0][1]), rows[0][2], from_ms(rows[0][3])) if rows else None

    @contextlib.contextmanager
    def at_one_instant(self) -> Iterator[None]:
        """All reads inside see the same state. Keep it short."""
        with errors_in_words(self._file), one_view(self._connection):
            yield

    def close(self) -> None:
        self._connection.close()

    def _rows(self, statement: str, *values: object) -> list[tuple[Any, ...]]:
        with errors_in_words(self._file):
            return self._connection.execute(statement, values).fetchall()

    def _said(self, read: Callable[[str], SaidT], identity: str, text: str, voided: bool, strict: bool) -> SaidT | None:
        """Where something was voided that cannot be read, nobody misses it; of anything else no verdict may be made."""
        try:
            return replace(read(text), voided=voided)
        except Malformed as error:
            if voided:
                return None
            why = clean(f"{identity}: {error}", 300)
            if strict:
                hint = f"Void it (`fermwatch note void {clean(identity, 70)}`), and enter it anew."
                raise UnreadableRow(f"What was said as {why}.", hint=hint) from error
            self._misread[identity] = why
            return None

    def _value(self, shape: type[ValueT], text: str) -> ValueT:
        try:
            return from_text(shape, text)
        except Malformed as error:
            raise UnreadableRow(
                f"{self._file} holds a {shape.__name__} that this version cannot read ({error}).",
                hint="The watcher and this program may be of different versions: update the older one.",
            ) from error

    def _many(self, shape: type[ValueT], statement: str, *values: object) -> tuple[ValueT, ...]:
        return tuple(self._value(shape, text) for (text,) in self._rows(statement, self._site, *values))

    def _one(self, shape: type[ValueT], statement: str, *values: object) -> ValueT | None:
        found = self._many(shape, statement, *values)
        return found[0] if found else None


def _measurement(text: str) -> GravityMeasurement:
    """Earlier versions kept some as certain as nothing is."""
    read = from_text(GravityMeasurement, text)
    return replace(read, sd_points=max(read.sd_points, LEAST_SD_POINTS))


def _event(text: str) -> Event:
    read = from_text(Event, text)
    return replace(read, data=event_data.read(read.kind, read.data, tolerant=True))
