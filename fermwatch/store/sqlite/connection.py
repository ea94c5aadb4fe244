"""SQLite connections as this store needs them, transactions, and SQLite's errors in a person's words.

The writer is the only connection that checkpoints: two that do can corrupt a database in SQLite up to 3.51.2
(sqlite.org/wal.html, "WAL-reset bug"). No file of a database is ever opened but by SQLite.
"""

import contextlib
import os
import re
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TypeVar

from fermwatch.errors import ConfigError, StoreDamaged, StoreError, StoreFull

DIRECTORY_MODE = 0o2750
FILE_MODE = 0o640
BUSY_S = 5.0
WRITER_BUSY_S = 2.0  # tried again and again, and told by then
WAL_LIMIT = 4 * 1024 * 1024
BACKUP = "Stop the watcher and put a backup in its place: `fermwatch restore FILE --replace`."
OLDEST_SQLITE = (3, 37, 0)  # STRICT tables

_SLUG = re.compile(r"[a-z0-9][a-z0-9_-]{0,62}")
ResultT = TypeVar("ResultT")
Connect = Callable[[Path], sqlite3.Connection]


def store_file(directory: Path, site: str) -> Path:
    """Where a site's store lies. ConfigError where `site` is no slug: it becomes a file name."""
    if not _SLUG.fullmatch(site):
        raise ConfigError(
            f"{site!r:.70} cannot name a site.",
            key="site",
            hint="Use small letters, digits, `-` and `_`, as in `home`.",
        )
    return directory / f"{site}.db"


def make_directory(directory: Path, mode: int) -> None:
    """Make it with exactly `mode`, whatever the umask; one that is already there is left as its owner wants it."""
    if directory.is_dir():
        return
    try:
        directory.mkdir(parents=True)
    except OSError as error:
        raise StoreError(
            f"The directory {directory} cannot be made: {error.strerror}.",
            hint="Make it, or name another under [store] in the configuration.",
        ) from error
    _set_mode(directory, mode)


def _set_mode(path: Path, mode: int) -> None:
    try:
        path.chmod(mode)
    except PermissionError:  # some file systems refuse the set-group-id bit; the rest still matters
        path.chmod(mode & 0o777)


def connect_writer(file: Path) -> sqlite3.Connection:
    """The one connection that writes and checkpoints: WAL, every commit synced."""
    connection = _connect(file, "rwc", WRITER_BUSY_S)
    with errors_in_words(file, connection.close):
        connection.execute("PRAGMA schema_version")  # makes the file
        _set_mode(file, FILE_MODE)  # before -wal and -shm, which take their mode from it
        connection.execute("PRAGMA journal_mode = WAL").fetchone()
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute(f"PRAGMA journal_size_limit = {WAL_LIMIT}")
    return connection


def connect_reader(file: Path) -> sqlite3.Connection:
    """A connection that can neither write nor checkpoint."""
    connection = _connect(file, "ro", BUSY_S)
    with errors_in_words(file, connection.close):
        connection.execute("PRAGMA query_only = ON")
        connection.execute("PRAGMA wal_autocheckpoint = 0").fetchone()
        connection.execute("PRAGMA schema_version").fetchone()
    return connection


def connect_alone(file: Path, mode: str) -> sqlite3.Connection:
    """A connection to a file that nobody else has open, as a copy: `rw`, or `ro` and then with no file beside it."""
    return _connect(file, mode if mode == "rw" else f"{mode}&immutable=1", BUSY_S)


def _connect(file: Path, mode: str, busy_s: float) -> sqlite3.Connection:
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise StoreError(
            f"This Python brings SQLite {sqlite3.sqlite_version}.", hint="The store needs 3.37 or newer: update Python."
        )
    uri = f"{file.absolute().as_uri()}?mode={mode}"
    with errors_in_words(file):
        # One thread at a time uses a connection, but not always the one that opened it.
        connection = sqlite3.connect(uri, uri=True, timeout=busy_s, isolation_level=None, check_same_thread=False)
        connection.text_factory = _text
        connection.execute("PRAGMA trusted_schema = OFF")
    return connection


def _text(data: bytes) -> str:
    """A flipped bit must not keep a whole store from being read: the row that holds it is then no row of ours."""
    return data.decode("utf-8", "replace")


def transact(connection: sqlite3.Connection, work: Callable[[sqlite3.Connection], ResultT]) -> ResultT:
    """Do `work` in one transaction: committed whole, or rolled back whole."""
    _abandon(connection)
    try:
        connection.execute("BEGIN IMMEDIATE")
        result = work(connection)
        connection.execute("COMMIT")
    except BaseException:
        _abandon(connection)
        raise
    return result


@contextlib.contextmanager
def one_view(connection: sqlite3.Connection) -> Iterator[None]:
    """All reads inside see the store at one instant; nothing is left open afterwards."""
    if connection.in_transaction:
        yield
        return
    try:
        connection.execute("BEGIN")
        yield
    finally:
        _abandon(connection)


def _abandon(connection: sqlite3.Connection) -> None:
    """Roll back what is open: SQLite does so by itself after some failures, and BEGIN may fail half-way."""
    if connection.in_transaction:
        with contextlib.suppress(sqlite3.Error):  # the failure that led here is the one to tell; the next call retries
            connection.execute("ROLLBACK")


@contextlib.contextmanager
def errors_in_words(file: Path, on_error: Callable[[], None] | None = None) -> Iterator[None]:
    """Turn what SQLite raises inside into a StoreError with a remedy."""
    try:
        yield
    except sqlite3.Error as error:
        if on_error is not None:
            on_error()
        raise in_words(error, file) from error
    except OSError as error:
        if on_error is not None:
            on_error()
        raise StoreError(f"{file}: {error.strerror}.", hint="Check who owns the directory, and its mode.") from error


def in_words(error: sqlite3.Error, file: Path) -> StoreError:
    """The StoreError that says what happened to `file` and what to do about it."""
    name = getattr(error, "sqlite_errorname", "") or ""
    if name.startswith("SQLITE_FULL") or (name.startswith("SQLITE_IOERR") and _is_full(file)):
        return StoreFull(
            f"The disk that holds {file} is full.", hint="Free some space; watching goes on by itself then."
        )
    if name.startswith("SQLITE_CORRUPT"):
        return StoreDamaged(f"{file} is damaged.", hint=BACKUP)
    for prefix, (message, hint) in _WORDS.items():
        if name.startswith(prefix):
            return StoreError(message.format(file=file), hint=hint)
    return StoreError(f"{file}: {error}.", hint="The journal of the service has more.")


_WORDS = {
    "SQLITE_BUSY": (
        "{file} is locked by another program.",
        "Close whatever else has it open, as a database shell; no other program should write it.",
    ),
    "SQLITE_IOERR": ("{file} cannot be read or written: the disk reports an error.", "Check the disk and its cable."),
    "SQLITE_NOTADB": ("{file} is not a store of fermwatch.", "Move it aside, or name another directory."),
    "SQLITE_READONLY": ("{file} may not be written by this user.", "Check who owns it, and its mode."),
    "SQLITE_CANTOPEN": ("{file} cannot be opened by this user.", "Join the group that owns it, or check its mode."),
    "SQLITE_PERM": ("{file} may not be read by this user.", "Join the group that owns it, or check its mode."),
}


def _is_full(file: Path) -> bool:
    try:
        room = os.statvfs(file.parent)
    except OSError:
        return False
    return room.f_bavail * room.f_frsize < 64 * 1024
