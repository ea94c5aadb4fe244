"""The inbox: a small queue of its own beside the store, that the people of the group may write.

A rollback journal, not WAL: any user may open it first or last, and nothing but the one file then remains. What cannot
be read is set aside in a table of its own, with the reason, and never stops the rest.
"""

import json
import sqlite3
from datetime import datetime
from pathlib import Path
from typing import Any

from fermwatch.clock import from_ms, to_ms
from fermwatch.contracts.inbox import Request, RequestKind
from fermwatch.errors import StoreError
from fermwatch.plain_data import to_plain
from fermwatch.store.connection import connect_queue, errors_in_words, make_directory, transact

DIRECTORY_MODE = 0o2770
FILE_MODE = 0o660
APPLICATION_ID = 0x6665696E  # "fein"
LARGEST_PAYLOAD = 64 * 1024

_SCHEMA = f"""
BEGIN IMMEDIATE;
CREATE TABLE IF NOT EXISTS request (
    position INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    site TEXT NOT NULL,
    kind TEXT NOT NULL,
    payload TEXT NOT NULL,
    user TEXT NOT NULL,
    created_at_ms INTEGER NOT NULL,
    expires_at_ms INTEGER,
    version INTEGER NOT NULL
);
CREATE TABLE IF NOT EXISTS unreadable (
    position INTEGER PRIMARY KEY,
    id TEXT,
    payload TEXT,
    reason TEXT NOT NULL
);
PRAGMA application_id = {APPLICATION_ID};
PRAGMA user_version = 1;
COMMIT;
"""
_PUT = """
INSERT INTO request (id, site, kind, payload, user, created_at_ms, expires_at_ms, version)
VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO NOTHING
"""
_WAITING = """
SELECT position, id, site, kind, payload, user, created_at_ms, expires_at_ms, version FROM request
WHERE typeof(payload) <> 'text' OR length(payload) <= :largest ORDER BY position LIMIT 1000
"""
_TOO_LARGE = "SELECT position FROM request WHERE typeof(payload) = 'text' AND length(payload) > :largest"
_SET_ASIDE = "INSERT INTO unreadable (id, payload, reason) SELECT id, payload, ? FROM request WHERE position = ?"
_FORGET = "DELETE FROM request WHERE position = ?"
_DROP = "DELETE FROM request WHERE id = ?"


def open_inbox(directory: Path, *, create: bool = False) -> "SqliteInbox":
    """The inbox beside the store in `directory`. `create` makes it where there is none: for the watcher alone.

    Raises StoreError, with the remedy, where it is missing or this user may not write it.
    """
    file = directory / "inbox" / "inbox.db"
    if create:
        make_directory(directory, 0o2750)
        make_directory(file.parent, DIRECTORY_MODE)
    elif not file.exists():
        raise StoreError(f"There is no inbox at {file}.", hint="Start `fermwatch watch` once, or try `fermwatch demo`.")
    if file.is_symlink():
        raise StoreError(f"{file} is a link to another file.", hint="Somebody replaced it: remove it, and ask who.")
    is_new = not file.exists()
    connection = connect_queue(file)
    with errors_in_words(file, connection.close):
        if is_new:
            file.chmod(FILE_MODE)
            connection.executescript(_SCHEMA)
        owner = connection.execute("PRAGMA application_id").fetchone()[0]
    if owner != APPLICATION_ID:
        connection.close()
        raise StoreError(f"{file} is not an inbox of fermwatch.", hint="Move it aside; the watcher makes a new one.")
    return SqliteInbox(connection, file)


class SqliteInbox:
    """contracts.inbox.Inbox over SQLite. Used by one thread at a time."""

    def __init__(self, connection: sqlite3.Connection, file: Path) -> None:
        self._connection, self._file = connection, file

    def put(self, request: Request) -> None:
        """Keep it durably; put twice, it is kept once."""
        payload = json.dumps(to_plain(request.payload), allow_nan=False)
        if len(payload) > LARGEST_PAYLOAD:
            raise StoreError("The request is too long.", hint="Shorten its texts.")
        row = (
            request.id,
            request.site,
            request.kind.value,
            payload,
            request.user,
            to_ms(request.created_at),
            None if request.expires_at is None else to_ms(request.expires_at),
            request.version,
        )
        with errors_in_words(self._file):
            transact(self._connection, lambda connection: connection.execute(_PUT, row))

    def waiting(self) -> tuple[Request, ...]:
        with errors_in_words(self._file):
            rows = self._connection.execute(_WAITING, {"largest": LARGEST_PAYLOAD}).fetchall()
            too_large = self._connection.execute(_TOO_LARGE, {"largest": LARGEST_PAYLOAD}).fetchall()
        found: list[Request] = []
        bad = [(position, "It is too long.") for (position,) in too_large]
        for position, *row in rows:
            try:
                found.append(_request(row))
            except (ValueError, TypeError, OverflowError, RecursionError) as error:
                bad.append((position, f"{error}"[:200]))
        if bad:
            self._set_aside(bad)
        return tuple(found)

    def drop(self, request_id: str) -> None:
        with errors_in_words(self._file):
            transact(self._connection, lambda connection: connection.execute(_DROP, (request_id,)))

    def unreadable(self) -> int:
        """How many were set aside."""
        with errors_in_words(self._file):
            return int(self._connection.execute("SELECT count(*) FROM unreadable").fetchone()[0])

    def close(self) -> None:
        self._connection.close()

    def _set_aside(self, bad: list[tuple[int, str]]) -> None:
        def write(connection: sqlite3.Connection) -> None:
            for position, reason in bad:
                connection.execute(_SET_ASIDE, (reason, position))
                connection.execute(_FORGET, (position,))

        with errors_in_words(self._file):
            transact(self._connection, write)


def _request(row: list[Any]) -> Request:
    """Whoever may write the inbox may have written anything: everything is looked at. ValueError or TypeError."""
    identity, site, kind, payload, user, created_at_ms, expires_at_ms, version = row
    texts = (identity, site, kind, payload, user)
    if not all(isinstance(text, str) for text in texts) or not 0 < len(identity) <= 64:
        raise ValueError("An identity or a text of it is missing.")
    if not isinstance(version, int):
        raise TypeError("Its version is no number.")
    plain = json.loads(payload)
    if not isinstance(plain, dict):
        raise TypeError("Its payload is no object.")
    return Request(
        id=identity,
        site=site,
        kind=RequestKind(kind),
        payload=plain,
        user=user,
        created_at=from_ms(created_at_ms),
        expires_at=_optional(expires_at_ms),
        version=version,
    )


def _optional(milliseconds: int | None) -> datetime | None:
    return None if milliseconds is None else from_ms(milliseconds)
