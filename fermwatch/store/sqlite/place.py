"""contracts.store.Store: one site's SQLite file in a directory, and how it is opened."""

import sqlite3
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from urllib.parse import parse_qs, unquote, urlsplit

from fermwatch.contracts.backup import Contents, Restored
from fermwatch.contracts.store import JournalEntry, Reader
from fermwatch.errors import ConfigError
from fermwatch.store.sqlite import backup, ballast, restoring
from fermwatch.store.sqlite.connection import Connect, connect_writer, store_file
from fermwatch.store.sqlite.lease import is_held
from fermwatch.store.sqlite.reader import SqliteReader, open_reader
from fermwatch.store.sqlite.soundness import check_sound
from fermwatch.store.sqlite.writer import SqliteWriter, open_writer

BALLAST = "ballast_bytes"


class SqliteStore:
    """The file of one site. ConfigError where `site` is no slug. `connect` makes the connection that writes."""

    made_of = f"SQLite {sqlite3.sqlite_version}"

    def __init__(
        self, directory: Path, site: str, ballast_bytes: int = ballast.SIZE, connect: Connect = connect_writer
    ) -> None:
        self._directory, self._site, self._ballast_bytes, self._connect = directory, site, ballast_bytes, connect
        self._file = store_file(directory, site)

    @classmethod
    def at(cls, url: str, site: str) -> "SqliteStore":
        """By `file:///directory`, or `file:///directory?ballast_bytes=4096` where less room is to be held back."""
        said = urlsplit(url)
        options = parse_qs(said.query, keep_blank_values=True)
        size = options.pop(BALLAST, [str(ballast.SIZE)])[-1]
        if options or said.fragment or not (size.isascii() and size.isdecimal()):
            wanted = f"Only {BALLAST}=NUMBER may follow the directory."
            raise ConfigError(f"{url!r:.80} cannot be meant so.", key="store", hint=wanted)
        return cls(Path(unquote(said.path)), site, int(size))

    def reader(self) -> SqliteReader:
        return open_reader(self._directory, self._site)

    def writer(self, now: datetime, *, create: bool = True) -> SqliteWriter:
        held = self._ballast_bytes
        return open_writer(self._directory, self._site, now, create=create, ballast_bytes=held, connect=self._connect)

    def check_sound(self, given_up: Callable[[], bool]) -> None:
        check_sound(self._file, given_up)

    def back_up(self, target: Path) -> Contents:
        return backup.back_up(self._file, self._site, target)

    def restore(
        self, source: Path, now: datetime, *, replace: bool, entries: Callable[[Reader], Sequence[JournalEntry]]
    ) -> Restored:
        return restoring.restore(self._file, self._site, source, now, replace=replace, entries=entries)

    def is_held(self) -> bool:
        return is_held(self._file.with_suffix(".lease"))

    def trace(self) -> tuple[int, ...] | None:
        """Of the file; it is only looked at (see presence.py)."""
        try:
            found = self._file.stat()
        except OSError:
            return None
        return found.st_ino, found.st_size, found.st_mtime_ns
