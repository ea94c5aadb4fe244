"""The reading side of a store: short reads, each one consistent, that never write and never hold anybody up."""

import contextlib
import os
import re
import sqlite3
import stat
from array import array
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

from fermwatch.access import no_access
from fermwatch.clock import from_ms, to_ms
from fermwatch.contracts.inbox import Outcome, OutcomeState
from fermwatch.contracts.kept import Misread, StoreRoom
from fermwatch.contracts.store import (
    Bucket,
    ControllerStatus,
    JournalEntry,
    Latest,
    SourceStatus,
    StoredProbe,
    WatcherStatus,
)
from fermwatch.errors import StoreError, StoreMissing, UnreadableRow
from fermwatch.model.batch import Batch, Event, GravityMeasurement
from fermwatch.model.finding import Alarm
from fermwatch.model.judgement import Judgement
from fermwatch.model.probe import Binding, Calibration, Vessel
from fermwatch.model.reading import Flag, Reading
from fermwatch.model.telling import NotifierStatus, Told
from fermwatch.store import rows
from fermwatch.store.rows import Shape
from fermwatch.store.sqlite import newest, rollups
from fermwatch.store.sqlite.connection import connect_reader, errors_in_words, one_view, store_file
from fermwatch.store.sqlite.presence import Presence
from fermwatch.store.sqlite.schema import check_readable
from fermwatch.text import clean

NounT = TypeVar("NounT")
SaidT = TypeVar("SaidT", GravityMeasurement, Event)

SITES_NAMED = 10
_SLUG = re.compile(r"[a-z0-9][a-z0-9-]*")
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
_PAGE = """
SELECT at_ms, value, lag_ms, sequence, flags, n FROM reading
WHERE series = ? AND (at_ms, n) > (?, ?) AND at_ms < ? ORDER BY at_ms, n LIMIT ?
"""
_BELIEVED = """
SELECT at_ms, value FROM reading
WHERE series = ? AND at_ms >= ? AND at_ms < ? AND flags IN (0, 4) ORDER BY at_ms, n
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
_CONTROLLERS = "SELECT controller FROM controller WHERE site = ? ORDER BY name"
_NOTIFIERS = "SELECT notifier FROM notifier WHERE site = ? ORDER BY name"
_TOLD = "SELECT told FROM told WHERE site = ? ORDER BY notifier, rule, subject"
_JUDGEMENT = "SELECT judgement FROM judgement WHERE site = ? AND batch = ?"
_JOURNAL = """
SELECT at_ms, kind, subject, text FROM journal
WHERE site = :site AND (:kind = '' OR kind = :kind) AND (:subject = '' OR subject = :subject)
ORDER BY id DESC LIMIT :limit
"""
_OUTCOME = "SELECT request, state, reason, at_ms FROM outcome WHERE site = ? AND request = ?"


_LAST = 1 << 62  # of n: behind all readings of an instant
_RECENT_MS = 2 * rollups.HOUR_MS


def open_reader(directory: Path, site: str) -> "SqliteReader":
    """A reader of the site's store.

    Raises StoreMissing where there is none, StoreForbidden for who may not read it, StoreVersion where it is of
    another.
    """
    file = store_file(directory, site)
    check_may_be_read(file)
    connection = connect_reader(file)
    reader = SqliteReader(connection, file, site)
    try:
        with errors_in_words(file):
            check_readable(connection, file)
    except StoreError:
        connection.close()
        raise
    return reader


def _sites_beside(file: Path) -> list[str]:
    """The other sites that are kept there; what was put aside bears a dot in its name, and is none."""
    with contextlib.suppress(OSError):
        return sorted(one.stem for one in file.parent.glob("*.db") if _SLUG.fullmatch(one.stem) and one.is_file())
    return []


def check_may_be_read(file: Path) -> None:
    """StoreMissing where there is none, StoreForbidden for who may not read it."""
    try:
        mode = file.stat().st_mode
    except PermissionError:
        raise no_access(file.parent, "read") from None
    except OSError:
        if others := _sites_beside(file):
            named = ", ".join(others[:SITES_NAMED])
            hint = f"There is: {named}. Say one by --site, or start `fermwatch watch` for {file.stem}."
            raise StoreMissing(f"There is no site {file.stem} in {file.parent}.", hint=hint) from None
        hint = "Start `fermwatch watch` once, or try `fermwatch demo`."
        raise StoreMissing(f"There is no store at {file}.", hint=hint) from None
    if not stat.S_ISREG(mode):  # a pipe is never opened: it would wait for ever
        raise StoreError(f"{file} is no regular file.", hint="Name another store directory, or another site.")
    if not os.access(file, os.R_OK, effective_ids=True):
        raise no_access(file, "read")


class SqliteReader:
    """contracts.store.Reader over SQLite. Used by one thread at a time."""

    def __init__(self, connection: sqlite3.Connection, file: Path, site: str) -> None:
        self._connection, self._file, self._site = connection, file, site
        self._seen: tuple[int, int] | None = None
        self._presence = Presence([file])
        self._misread: dict[tuple[str, str], Misread] = {}

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
        found = self._rows(_SITE, self._site)
        if not found:
            raise StoreError(f"{self._file} holds nothing of the site {self._site}.", hint="Start `fermwatch watch`.")
        slug, timezone = found[0]
        return slug, timezone

    def watcher(self) -> WatcherStatus | None:
        return self._one(rows.WATCHER, _WATCHER)

    def vessels(self) -> tuple[Vessel, ...]:
        """Those configured, in the configuration's order; then any other that still holds an open batch."""
        return self._many(rows.VESSEL, _VESSELS)

    def series(self, *, every: bool = False) -> tuple[StoredProbe, ...]:
        found = ((number, self._read(rows.PROBE, text)) for number, text in self._rows(_SERIES, self._site, every))
        return tuple(StoredProbe(number, probe) for number, probe in found if probe is not None)

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
        found = self._rows(_LAST_GOOD, series, start_ms, end_ms)
        return Latest(series, from_ms(found[0][0]), found[0][1], Flag(found[0][2])) if found else None

    def readings(self, series: int, start: datetime, end: datetime) -> Sequence[Reading]:
        return [
            Reading(series, at_ms, value, lag_ms, sequence, Flag(flags))
            for at_ms, value, lag_ms, sequence, flags in self._rows(_READINGS, series, to_ms(start), to_ms(end))
        ]

    def pages(self, series: int, start: datetime, end: datetime, size: int = 2_000) -> Iterator[Sequence[Reading]]:
        after = (to_ms(start) - 1, _LAST)
        while found := self._rows(_PAGE, series, *after, to_ms(end), size):
            after = (found[-1][0], found[-1][-1])
            yield [
                Reading(series, at_ms, value, lag_ms, sequence, Flag(flags))
                for at_ms, value, lag_ms, sequence, flags, _ in found
            ]

    def believed(self, series: int, start: datetime, end: datetime) -> "tuple[array[int], array[float]]":
        rows = self._rows(_BELIEVED, series, to_ms(start), to_ms(end))
        return array("q", [at_ms for at_ms, _ in rows]), array("d", [value for _, value in rows])

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
        return self._many(rows.BATCH, _BATCHES, ended)

    def open_batches(self) -> tuple[str, ...]:
        """Their identities, oldest pitch first."""
        return tuple(identity for (identity,) in self._rows(_OPEN_BATCHES, self._site))

    def batch(self, batch_id: str) -> Batch | None:
        return self._one(rows.BATCH, _BATCH, batch_id)

    def measurements(self, batch_id: str, *, strict: bool = True) -> tuple[GravityMeasurement, ...]:
        """In time order, voided ones too. Raises UnreadableRow, or, not `strict`, leaves out what cannot be read."""
        return self._all_said(rows.MEASUREMENT, _MEASUREMENTS, batch_id, strict)

    def events(self, batch_id: str, *, strict: bool = True) -> tuple[Event, ...]:
        """In time order, voided ones too. Raises UnreadableRow, or, not `strict`, leaves out what cannot be read."""
        return self._all_said(rows.EVENT, _EVENTS, batch_id, strict)

    def misread(self) -> tuple[Misread, ...]:
        return tuple(self._misread.values())

    def alarms(self) -> tuple[Alarm, ...]:
        """Every alarm that has a state to keep, in whatever condition, by rule and subject."""
        return self._many(rows.ALARM, _ALARMS)

    def room(self) -> StoreRoom:
        """Of the file and what is not yet carried into it."""
        with errors_in_words(self._file):
            beside = self._file.with_name(self._file.name + "-wal")
            size = self._file.stat().st_size + (beside.stat().st_size if beside.exists() else 0)
            free = os.statvfs(self._file.parent) if hasattr(os, "statvfs") else None
        return StoreRoom(size, None if free is None else free.f_bavail * free.f_frsize)

    def sources(self) -> tuple[SourceStatus, ...]:
        return self._many(rows.SOURCE, _SOURCES)

    def controllers(self) -> tuple[ControllerStatus, ...]:
        return self._many(rows.CONTROLLER, _CONTROLLERS)

    def notifiers(self) -> tuple[NotifierStatus, ...]:
        return self._many(rows.NOTIFIER, _NOTIFIERS)

    def told(self) -> tuple[Told, ...]:
        return self._many(rows.TOLD, _TOLD)

    def judgement(self, batch_id: str) -> Judgement | None:
        found = self._many(rows.JUDGEMENT, _JUDGEMENT, batch_id)
        return found[0] if found else None

    def journal(self, *, limit: int = 50, kind: str = "", subject: str = "") -> tuple[JournalEntry, ...]:
        """The newest first."""
        wanted = {"site": self._site, "kind": kind, "subject": subject, "limit": limit}
        with errors_in_words(self._file):
            found = self._connection.execute(_JOURNAL, wanted).fetchall()
        return tuple(JournalEntry(from_ms(at_ms), *words) for at_ms, *words in found)

    def outcome(self, request_key: str) -> Outcome | None:
        found = self._rows(_OUTCOME, self._site, request_key)
        return Outcome(found[0][0], OutcomeState(found[0][1]), found[0][2], from_ms(found[0][3])) if found else None

    @contextlib.contextmanager
    def at_one_instant(self) -> Iterator[None]:
        """All reads inside see the same state. Keep it short."""
        if not self._connection.in_transaction:
            self._misread.clear()
        with errors_in_words(self._file), one_view(self._connection):
            yield

    def close(self) -> None:
        self._connection.close()

    def _rows(self, statement: str, *values: object) -> list[tuple[Any, ...]]:
        with errors_in_words(self._file):
            return self._connection.execute(statement, values).fetchall()

    def _all_said(self, shape: Shape[SaidT], statement: str, batch_id: str, strict: bool) -> tuple[SaidT, ...]:
        found = self._rows(statement, self._site, batch_id)
        read = (self._said(shape, identity, text, bool(voided), strict) for identity, text, voided in found)
        return tuple(one for one in read if one is not None)

    def _said(self, shape: Shape[SaidT], identity: str, text: str, voided: bool, strict: bool) -> SaidT | None:
        """Where something was voided that cannot be read, nobody misses it; of anything else no verdict may be made."""
        try:
            return replace(shape.read(text), voided=voided)
        except UnreadableRow as error:
            if voided:
                return None
            if strict:
                name = clean(identity, 70)
                remedy = f"oid it (`fermwatch note void {name}`), and enter it anew."
                hint = f"A newer version wrote it: update this one. Or v{remedy}" if error.newer else f"V{remedy}"
                message = f"What was said as {name}: {error.why}."
                raise UnreadableRow(message, hint=hint, why=error.why, newer=error.newer) from error
            self._pass_over(shape.name, identity, error)
            return None

    def _read(self, shape: Shape[NounT], text: str) -> NounT | None:
        """None, and noted, where it cannot be read."""
        try:
            return shape.read(text)
        except UnreadableRow as error:
            self._pass_over(shape.name, shape.label(text), error)
            return None

    def _pass_over(self, what: str, identity: str, error: UnreadableRow) -> None:
        self._misread[what, identity] = Misread(what, identity, error.why, error.newer)

    def _many(self, shape: Shape[NounT], statement: str, *values: object) -> tuple[NounT, ...]:
        read = (self._read(shape, text) for (text,) in self._rows(statement, self._site, *values))
        return tuple(one for one in read if one is not None)

    def _one(self, shape: Shape[NounT], statement: str, *values: object) -> NounT | None:
        found = self._rows(statement, self._site, *values)
        return shape.read(found[0][0]) if found else None
