"""For each backend of the store: where a test keeps one, and how to mistreat it from outside its contract."""

import contextlib
import json
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from enum import StrEnum
from pathlib import Path
from typing import Any, Protocol

from fermwatch.contracts.store import Store
from fermwatch.store.sqlite.connection import connect_writer
from fermwatch.store.sqlite.place import SqliteStore

NO_LIMIT = 1_073_741_823  # pages, SQLite's own


class Row(StrEnum):
    """What is kept whole, a row each."""

    VESSEL = "vessel"
    PROBE = "probe"
    BATCH = "batch"
    MEASUREMENT = "measurement"
    EVENT = "event"
    JUDGEMENT = "judgement"
    ALARM = "alarm"
    SOURCE = "source"
    CONTROLLER = "controller"
    NOTIFIER = "notifier"
    TOLD = "told"
    WATCHER = "watcher"


class StoreBench(Protocol):
    """A place for stores, and what may befall that of the site `home` while a writer of it is open."""

    def store(self, site: str = "home") -> Store: ...
    def contents(self) -> Sequence[str]:
        """All that is kept, to be compared; AssertionError where it is unsound."""

    def failing_at(self, point: int, stride: int) -> AbstractContextManager[None]:
        """What the writer does inside fails at that point of it; so many of the backend's steps lie between two."""

    def with_room_for(self, pieces: int) -> AbstractContextManager[None]:
        """The disk has room for so many pages, or whatever the backend grows by, and no more."""

    def held_by_another(self) -> AbstractContextManager[None]:
        """Another program writes there and does not come to an end; the writer is not patient."""

    def taken_away(self) -> AbstractContextManager[None]:
        """What is kept lies somewhere else meanwhile."""

    def rewrite(self, row: Row, change: Callable[[dict[str, Any]], object]) -> None:
        """Change the JSON of every row of a kind, as another version or a mistake would write it."""


class SqliteBench:
    def __init__(self, directory: Path) -> None:
        self._directory, self._file = directory / "store", directory / "store" / "home.db"
        self._writing: sqlite3.Connection | None = None

    def store(self, site: str = "home") -> Store:
        return SqliteStore(self._directory, site, ballast_bytes=4096, connect=self._connect)

    def _connect(self, file: Path) -> sqlite3.Connection:
        connection = connect_writer(file)
        if file == self._file:
            self._writing = connection
        return connection

    @property
    def _writer(self) -> sqlite3.Connection:
        assert self._writing is not None, "no writer is open"
        return self._writing

    @contextlib.contextmanager
    def _beside(self) -> Iterator[sqlite3.Connection]:
        """A connection of another program."""
        with contextlib.closing(sqlite3.connect(self._file, isolation_level=None)) as connection:
            yield connection

    def contents(self) -> Sequence[str]:
        with self._beside() as connection:
            assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            return list(connection.iterdump())

    @contextlib.contextmanager
    def failing_at(self, point: int, stride: int) -> Iterator[None]:
        looks = 0

        def is_the_point() -> bool:
            nonlocal looks
            looks += 1
            return looks == point

        self._writer.set_progress_handler(is_the_point, stride)
        try:
            yield
        finally:
            self._writer.set_progress_handler(None, 0)

    @contextlib.contextmanager
    def with_room_for(self, pieces: int) -> Iterator[None]:
        """SQLite's own limit of pages gives a true SQLITE_FULL."""
        (pages,) = self._writer.execute("PRAGMA page_count").fetchone()
        self._writer.execute(f"PRAGMA max_page_count = {pages + pieces}")
        try:
            yield
        finally:
            self._writer.execute(f"PRAGMA max_page_count = {NO_LIMIT}")

    @contextlib.contextmanager
    def held_by_another(self) -> Iterator[None]:
        self._writer.execute("PRAGMA busy_timeout = 20")
        with self._beside() as intruder:
            intruder.execute("BEGIN IMMEDIATE")
            yield
            intruder.execute("ROLLBACK")

    @contextlib.contextmanager
    def taken_away(self) -> Iterator[None]:
        elsewhere = self._file.with_name("elsewhere.db")
        self._file.rename(elsewhere)
        yield
        elsewhere.rename(self._file)

    def rewrite(self, row: Row, change: Callable[[dict[str, Any]], object]) -> None:
        table = "series" if row is Row.PROBE else row
        with self._beside() as connection:
            connection.execute(f"DROP TRIGGER IF EXISTS {row}_is_not_rewritten")
            for (text,) in connection.execute(f"SELECT {row} FROM {table}").fetchall():  # noqa: S608
                plain = json.loads(text)
                change(plain)
                written = json.dumps(plain)
                connection.execute(f"UPDATE {table} SET {row} = ? WHERE {row} = ?", (written, text))  # noqa: S608


BENCHES: dict[str, Callable[[Path], StoreBench]] = {"sqlite": SqliteBench}
"""Every backend, by its folder in fermwatch/store."""
