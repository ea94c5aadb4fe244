"""The watcher's side of a store: it holds the site's lease, and each call is one synced transaction or nothing."""

import contextlib
import logging
import sqlite3
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TypeVar

from fermwatch.clock import WRITTEN, to_ms
from fermwatch.contracts.inbox import Outcome, OutcomeState, Request, RequestKind
from fermwatch.contracts.kept import Appended
from fermwatch.contracts.store import ControllerStatus, JournalEntry, Latest, SourceStatus, WatcherStatus
from fermwatch.errors import RequestRefused, StoreError, StoreFull, StoreGone, UnreadableRow
from fermwatch.model.amounts import around
from fermwatch.model.finding import Alarm
from fermwatch.model.judgement import Judgement
from fermwatch.model.probe import Probe, Vessel
from fermwatch.model.reading import Reading
from fermwatch.model.telling import NotifierStatus, Told
from fermwatch.requests.carrying_out import carry_out, user_of
from fermwatch.requests.ledger import Done
from fermwatch.store import rows
from fermwatch.store.sqlite import arrivals, ballast, declared, newest, rollups, schema, statuses
from fermwatch.store.sqlite.connection import (
    DIRECTORY_MODE,
    Connect,
    connect_writer,
    errors_in_words,
    make_directory,
    store_file,
    transact,
)
from fermwatch.store.sqlite.deliveries import Deliveries
from fermwatch.store.sqlite.lease import Lease
from fermwatch.store.sqlite.ledger import KEEP_ALARM, SqliteLedger
from fermwatch.store.sqlite.presence import BACK_AGAIN, Presence, refuse_emptied
from fermwatch.store.sqlite.reader import SqliteReader
from fermwatch.text import clean

log = logging.getLogger("fermwatch")

ResultT = TypeVar("ResultT")

WAL_TROUBLE = 16 * 1024 * 1024

_BEGIN_SITE = "INSERT INTO site (site, timezone, begun_at_ms) VALUES (?, 'UTC', ?) ON CONFLICT DO NOTHING"
_NEWEST = """
SELECT series, (
    SELECT at_ms FROM reading WHERE reading.series = series.series AND flags & 32 = 0
    ORDER BY at_ms DESC LIMIT 1
) FROM series WHERE site = ?
"""
_JUDGEMENT = "INSERT OR REPLACE INTO judgement (site, batch, judgement) VALUES (?, ?, ?)"
_FORGET_ALARM = "DELETE FROM alarm WHERE site = ? AND rule = ? AND subject = ?"
_ENTER = "INSERT INTO journal (site, at_ms, kind, subject, text) VALUES (?, ?, ?, ?, ?)"
_KEEP_OUTCOME = "INSERT INTO outcome (site, request, state, reason, at_ms) VALUES (?, ?, ?, ?, ?)"


def open_writer(
    directory: Path,
    site: str,
    now: datetime,
    *,
    create: bool = True,
    ballast_bytes: int = ballast.SIZE,
    connect: Connect = connect_writer,
) -> "SqliteWriter":
    """Take the site's lease and open its store, making (unless not to `create`) or upgrading it where needed.

    Raises LeaseTaken where another process holds the site, StoreVersion where a newer version wrote the store,
    StoreFull or StoreError where it cannot be opened.
    """
    file = store_file(directory, site)
    if not create and not file.exists():
        raise StoreGone(f"The store was taken away: there is no {file} any more.", hint=BACK_AGAIN)
    make_directory(directory, DIRECTORY_MODE)
    refuse_emptied(file)
    with errors_in_words(file):
        lease = Lease(file.with_suffix(".lease"), site)
    with contextlib.ExitStack() as undo:
        undo.callback(lease.release)
        connection = connect(file)
        undo.callback(connection.close)
        with errors_in_words(file):
            schema.upgrade(connection, file)
            transact(connection, lambda open_: open_.execute(_BEGIN_SITE, (site, to_ms(now))))
        held = ballast.Ballast(file.with_suffix(".ballast"), ballast_bytes)
        with errors_in_words(file):
            writer = SqliteWriter(connection, file, site, lease, held)
        undo.pop_all()
    return writer


class SqliteWriter(SqliteReader):
    """contracts.store.Writer over SQLite. Used by one thread at a time."""

    def __init__(
        self, connection: sqlite3.Connection, file: Path, site: str, lease: Lease, held: ballast.Ballast
    ) -> None:
        super().__init__(connection, file, site)
        self._lease, self._ballast = lease, held
        self._presence = Presence([file, *(file.with_name(f"{file.name}-{part}") for part in ("wal", "shm"))])
        self._newest: dict[int, int | None] = dict(self._rows(_NEWEST, site))
        self._deliveries = Deliveries(connection, site)
        self._readings_wait = False

    def declare(
        self, timezone: str, vessels: Sequence[Vessel], probes: Sequence[Probe], now: datetime
    ) -> Mapping[str, int]:
        numbers = self._write(lambda connection: declared.keep(connection, self._site, timezone, vessels, probes, now))
        for series in numbers.values():
            self._newest.setdefault(series, None)
        return numbers

    def append(self, readings: Sequence[Reading], new_sessions: Collection[int] = ()) -> Appended:
        """Store what is new. Readings wait (StoreFull) while the room kept for alarms is spent."""
        if not readings and not new_sessions:
            return Appended(0, 0)
        self._check_room()
        fresh, heard = self._deliveries.sift(readings, new_sessions)
        sorted_out = arrivals.sort_out(fresh, self._newest)

        def write(connection: sqlite3.Connection) -> int:
            stored = self._keep(connection, sorted_out, fresh)
            self._deliveries.write(connection, heard, new_sessions)
            return stored

        stored = self._write(write, vital=False)
        self._deliveries.committed(heard, new_sessions)
        self._readings_wait = False
        self._newest.update(sorted_out.newest)
        return Appended(stored, len(readings) - stored)

    def _check_room(self) -> None:
        self._presence.check()
        if not self._ballast.present and not self._ballast.lay():
            raise StoreFull(
                f"The disk that holds {self._file} is full.", hint="Free some space; watching goes on by itself then."
            )

    def _keep(self, connection: sqlite3.Connection, sorted_out: arrivals.Arrivals, readings: Sequence[Reading]) -> int:
        """Within a transaction: readings, their roll-ups, and what is newest of them."""
        rows = arrivals.store(connection, sorted_out)
        before = {series: at for series in sorted_out.newest if (at := self._newest[series]) is not None}
        rollups.close_spans(connection, ((row[0], row[1]) for row in rows), before, sorted_out.newest)
        newest.keep(connection, rows, readings)
        return len(rows)

    def set_last_known(self, latest: Sequence[Latest]) -> None:
        self._write(lambda connection: newest.keep_last_known(connection, latest), vital=False)

    def mark_ahead(self, now: datetime) -> bool:
        if now < WRITTEN:
            return False
        limit_ms = to_ms(now) + newest.LITTLE_AHEAD_MS
        ahead = [series for series, at_ms in self._newest.items() if at_ms is not None and at_ms > limit_ms]
        if not ahead:
            return False
        marked = self._write(lambda connection: newest.mark_ahead(connection, ahead, to_ms(now)))
        self._newest.update(marked)
        return bool(marked)

    def take_off_marks(self, after: datetime, until: datetime) -> bool:
        span = to_ms(after), to_ms(until)
        freed = self._write(lambda connection: newest.take_off(connection, tuple(self._newest), *span))
        self._newest.update(freed)
        return bool(freed)

    def beat(self, status: WatcherStatus) -> None:
        self._write(lambda connection: statuses.keep(connection, self._site, status))
        self._notice_room()

    def _notice_room(self) -> None:
        """A disk that has room again is full no more, whether or not a reading comes to try it."""
        waits = self._readings_wait or not self._ballast.present
        if waits and self._ballast.has_room() and (self._ballast.present or self._ballast.lay()):
            self._readings_wait = False

    def set_source(self, status: SourceStatus) -> None:
        self._write(lambda connection: statuses.keep(connection, self._site, status))

    def set_controller(self, status: ControllerStatus) -> None:
        self._write(lambda connection: statuses.keep(connection, self._site, status))

    def forget_controllers(self, but: Collection[str]) -> None:
        if gone := [one.name for one in self.controllers() if one.name not in but]:
            self._write(lambda connection: statuses.forget_controllers(connection, self._site, gone))

    def set_notifier(self, status: NotifierStatus, told: Sequence[Told] = ()) -> None:
        self._write(lambda connection: statuses.keep_notifier(connection, self._site, status, told))

    def forget_notifiers(self, but: Collection[str]) -> None:
        if gone := [one.name for one in self.notifiers() if one.name not in but]:
            self._write(lambda connection: statuses.forget_notifiers(connection, self._site, gone))

    def forget_told(self, keys: Sequence[tuple[str, str]]) -> None:
        self._write(lambda connection: statuses.forget_told(connection, self._site, keys))

    def save_alarms(self, alarms: Sequence[Alarm], entries: Sequence[JournalEntry]) -> None:
        kept = [(self._site, alarm.rule, alarm.subject, rows.ALARM.row(alarm)) for alarm in alarms]

        def write(connection: sqlite3.Connection) -> None:
            connection.executemany(KEEP_ALARM, kept)
            self._enter(connection, entries)

        self._write(write)

    def forget_alarms(self, keys: Sequence[tuple[str, str]]) -> None:
        rows = [(self._site, rule, subject) for rule, subject in keys]
        self._write(lambda connection: connection.executemany(_FORGET_ALARM, rows))

    def save_judgement(self, batch_id: str, judgement: Judgement) -> None:
        row = (self._site, batch_id, rows.JUDGEMENT.row(judgement))
        self._write(lambda connection: connection.execute(_JUDGEMENT, row))

    def enter(self, entries: Sequence[JournalEntry]) -> None:
        self._write(lambda connection: self._enter(connection, entries))

    def apply(self, request: Request, now: datetime) -> Outcome:
        """Done once however often it is asked; the alarms of the store may differ afterwards from the caller's.

        Readings that it brings wait (StoreFull) as all others do while the room kept for alarms is spent.
        """
        brings_readings = request.kind is RequestKind.IMPORT
        if brings_readings:
            self._check_room()
        newest_ms: dict[int, int] = {}

        def write(connection: sqlite3.Connection) -> Outcome:
            known = self.outcome(request.key)
            if known is not None:
                return known
            newest_ms.clear()
            outcome = self._carry_out(connection, request, now, newest_ms)
            row = (self._site, outcome.request_key, outcome.state, outcome.reason, to_ms(outcome.at))
            connection.execute(_KEEP_OUTCOME, row)
            return outcome

        outcome = self._write(write, vital=not brings_readings)
        self._newest.update(newest_ms)
        return outcome

    def trouble(self) -> str:
        """One line where the store itself has trouble, else nothing. StoreGone where it was taken away."""
        self._presence.check()
        if self._readings_wait or not self._ballast.present:
            return f"The disk that holds {self._file} is full: readings wait, alarms are still kept. Free some space."
        wal = self._file.with_name(self._file.name + "-wal")
        grown = wal.stat().st_size if wal.exists() else 0
        if grown > WAL_TROUBLE:
            return f"A program that reads {self._file} never lets go of it: {wal.name} has grown to {grown >> 20} MB."
        return ""

    def check_in_place(self) -> None:
        """StoreGone where the store was taken away under this writer."""
        self._presence.check()

    def was_written(self) -> bool:
        with errors_in_words(self._file):
            return self._presence.was_written()

    def close(self) -> None:
        """Leave one plain file where nobody else reads, so that those who may not write can still open it.

        Of a store that was taken away nothing is touched: what lies in its place is another's.
        """
        try:
            self._presence.check()
            self._connection.execute("PRAGMA busy_timeout = 0")
            self._connection.execute("PRAGMA journal_mode = DELETE")
        except (sqlite3.Error, StoreGone):
            pass  # somebody reads: -wal and -shm stay, and serve readers just as well; or it is not ours any more
        self._connection.close()
        self._lease.release()

    def _write(self, work: Callable[[sqlite3.Connection], ResultT], *, vital: bool = True) -> ResultT:
        """One transaction. What is vital is written on a full disk too, into the room that the ballast held."""
        try:
            return self._transact(work)
        except StoreFull:
            self._readings_wait = True
            if not vital or not self._ballast.spend():
                raise
        return self._transact(work)

    def _transact(self, work: Callable[[sqlite3.Connection], ResultT]) -> ResultT:
        """StoreGone also where the store went while it was written: then nobody may be told that it is safe."""
        self._presence.check()
        with errors_in_words(self._file):
            result = transact(self._connection, work)
        self._presence.check()
        return result

    def _carry_out(
        self, connection: sqlite3.Connection, request: Request, now: datetime, newest_ms: dict[int, int]
    ) -> Outcome:
        """newest_ms: is told the newest at_ms of the series whose readings it brings, once it is committed."""

        def add_readings(readings: Sequence[Reading]) -> int:
            sorted_out = arrivals.sort_out(readings, self._newest)
            newest_ms.update(sorted_out.newest)
            return self._keep(connection, sorted_out, readings)

        if request.expires_at is not None and request.expires_at <= now:
            return Outcome(request.key, OutcomeState.EXPIRED, "It came too late to be carried out.", now)
        connection.execute("SAVEPOINT request")
        state = OutcomeState.REFUSED
        try:
            done = carry_out(SqliteLedger(connection, self._site, add_readings), request, self._site, now)
            reason, state = done.text, OutcomeState.DONE
        except (RequestRefused, UnreadableRow) as refusal:
            reason = str(refusal)
        except (sqlite3.Error, StoreError):
            raise
        except Exception as error:
            # Answered and done with: asked again and again, it would keep everybody else's requests from being seen.
            log.exception("%s by %s failed", request.kind, user_of(request))
            reason = f"A mistake of fermwatch ({type(error).__name__}): nothing was done. The watcher's log has more."
        if state is OutcomeState.REFUSED:
            newest_ms.clear()
            connection.execute("ROLLBACK TO request")
            done = Done("", f"{user_of(request)} asked in vain ({request.kind}): {reason}")
        connection.execute("RELEASE request")
        if done.is_news:
            self._enter(connection, [JournalEntry(now, "request", done.subject, done.text)])
        return Outcome(request.key, state, reason, now)

    def _enter(self, connection: sqlite3.Connection, entries: Sequence[JournalEntry]) -> None:
        rows = [
            (
                self._site,
                to_ms(entry.at),
                clean(entry.kind),
                clean(entry.subject),
                around(entry.text, partial(clean, limit=500)),
            )
            for entry in entries
        ]
        connection.executemany(_ENTER, rows)
