"""A copy of a store in a file of its own, made beside whoever writes, and read back before it is said to be one.

SQLite's own copying is the only one that is whole beside a writer (sqlite.org/backup.html). All of it is of one
instant: a transaction that reads is held over the copying, so that no commit makes it begin anew.
"""

import contextlib
import errno
import os
import sqlite3
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from fermwatch.clock import from_ms
from fermwatch.contracts.backup import Contents
from fermwatch.errors import InputError, StoreDamaged, StoreError, StoreFull
from fermwatch.store.sqlite import schema
from fermwatch.store.sqlite.connection import (
    FILE_MODE,
    connect_alone,
    connect_reader,
    errors_in_words,
    in_words,
    one_view,
)
from fermwatch.store.sqlite.reader import check_may_be_read
from fermwatch.store.sqlite.soundness import first_found
from fermwatch.text import clean

PAGES = 1_000  # at a time, so that whoever waits can give it up
OTHER_SITE = "Take a backup of this site"
NO_ROOM = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}

_COUNT = """
SELECT
    (SELECT count(*) FROM reading WHERE series IN (SELECT series FROM series WHERE site = :site)),
    (SELECT count(*) FROM batch WHERE site = :site),
    (SELECT count(*) FROM measurement WHERE site = :site),
    (SELECT count(*) FROM event WHERE site = :site),
    (SELECT count(*) FROM journal WHERE site = :site),
    (SELECT max(at_ms) FROM latest WHERE series IN (SELECT series FROM series WHERE site = :site))
"""
_SITES = "SELECT site FROM site ORDER BY site LIMIT 10"
# What acts by itself is compared as it was written; of tables, their columns.
_THINGS = """
SELECT type, name, CASE WHEN type IN ('trigger', 'view') THEN sql END FROM sqlite_schema
WHERE name NOT LIKE 'sqlite|_%' ESCAPE '|'
"""
_COLUMNS = """
SELECT 'column', thing.name || '.' || part.name, part.type || part.pk || part.hidden
FROM sqlite_schema AS thing, pragma_table_xinfo(thing.name) AS part WHERE thing.type = 'table'
AND thing.name NOT LIKE 'sqlite|_%' ESCAPE '|'
"""
_Shape = frozenset[tuple[str, str, str | None]]


def back_up(file: Path, site: str, target: Path) -> Contents:
    """contracts.store.Store.back_up of the store in `file`."""
    if os.path.lexists(target):
        raise InputError(
            f"{target} is there already, and nothing is ever written over a backup.",
            hint="Name another file; or a directory, and it gets a name with the time in it.",
        )
    check_may_be_read(file)
    with contextlib.closing(connect_reader(file)) as source, errors_in_words(file), one_view(source):
        schema.check_readable(source, file)
        copied = counted(source, site)
        with part_of(target) as part:
            _copy(source, part, target)
            found = look_into(part, site)
            if found != copied:
                raise StoreDamaged(f"{target}: what was read back is not what was copied.", hint="Check that disk.")
            with told_of(target):
                part.rename(target)
                sync(target.parent)
    return found


def counted(connection: sqlite3.Connection, site: str) -> Contents:
    readings, batches, measurements, events, journal, until_ms = connection.execute(_COUNT, {"site": site}).fetchone()
    until = None if until_ms is None else from_ms(until_ms)
    return Contents(schema.version_of(connection), readings, batches, measurements, events, journal, until)


@contextlib.contextmanager
def part_of(target: Path) -> Iterator[Path]:
    """An empty file beside `target`, under another name; removed where it still bears that at the end."""
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    with told_of(target):
        descriptor = os.open(part, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC | os.O_NOFOLLOW, FILE_MODE)
        os.close(descriptor)
    try:
        yield part
    finally:
        for each in (part, part.with_name(f"{part.name}-journal")):
            each.unlink(missing_ok=True)


def _copy(source: sqlite3.Connection, part: Path, target: Path) -> None:
    with told_of(target), contextlib.closing(connect_alone(part, "rw")) as copy:
        copy.execute("PRAGMA synchronous = OFF")  # synced as a whole, below
        source.backup(copy, pages=PAGES)
        copy.execute("PRAGMA journal_mode = DELETE")  # one plain file: nothing needs to lie beside it
    with told_of(target):
        sync(part)


def sync(path: Path) -> None:
    """To the disk; of a file, what is read next comes from there where the system can be asked to forget it."""
    descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
    try:
        os.fsync(descriptor)
        if hasattr(os, "posix_fadvise") and path.is_file():
            os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)
    finally:
        os.close(descriptor)


def look_into(file: Path, site: str, told_as: Path | None = None) -> Contents:
    """All that a backup holds, read from one end to the other: it may be anybody's, and made to do harm.

    StoreError where it is no store of this site, StoreVersion where a newer version wrote it, StoreDamaged where it is
    not whole. told_as: by what name it is told of.
    """
    name = told_as or file
    try:
        return _looked_into(file, site, name)
    except StoreError as error:
        if type(error) is StoreError and not error.hint.startswith(OTHER_SITE):
            raise StoreError(error.message, hint="Name a file that `fermwatch backup FILE` wrote.") from error
        raise


def _looked_into(file: Path, site: str, name: Path) -> Contents:
    with told_of(name), contextlib.closing(connect_alone(file, "ro")) as connection:
        connection.execute("PRAGMA cell_size_check = ON")
        schema.check_owner(connection, name)
        version = schema.version_of(connection)
        schema.refuse_newer(version, schema.newest(), name)
        _refuse_strange(connection, version, name)
        if (found := first_found(connection)) != "ok":
            raise StoreDamaged(f"{name} is damaged ({clean(found, 120)}).", hint="Take another backup.")
        _refuse_other_site(connection, site, name)
        return counted(connection, site)


def _refuse_strange(connection: sqlite3.Connection, version: int, name: Path) -> None:
    """What this program did not make might act when a store is written; what is missing cannot be read."""
    found, wanted = _shape(connection), _shape_of(version)
    acting = sorted(one for kind, one, _ in found - wanted if kind in {"trigger", "view"})
    if acting:
        raise StoreError(f"{name} holds what fermwatch never made: {clean(acting[0], 60)}.")
    if missing := sorted(one for _, one, _ in wanted - found):
        raise StoreDamaged(f"{name} lacks what a store has: {missing[0]}.", hint="Take another backup.")


def _shape(connection: sqlite3.Connection) -> _Shape:
    return frozenset((*connection.execute(_THINGS), *connection.execute(_COLUMNS)))


@cache
def _shape_of(version: int) -> _Shape:
    with contextlib.closing(sqlite3.connect(":memory:")) as empty:
        for migration in schema.migrations():
            if migration.number <= version:
                empty.executescript(migration.sql)
        return _shape(empty)


def _refuse_other_site(connection: sqlite3.Connection, site: str, name: Path) -> None:
    sites = [clean(str(one), 70) for (one,) in connection.execute(_SITES)]
    if site not in sites:
        whose = f"of the site {sites[0]}" if sites else "of no site"
        raise StoreError(
            f"{name} is {whose}, not of {site}.",
            hint=f"{OTHER_SITE}, or name the other one with --site before the command.",
        )


@contextlib.contextmanager
def told_of(file: Path) -> Iterator[None]:
    """What fails inside, as a StoreError about `file`: a place for a backup, or one."""
    try:
        yield
    except sqlite3.Error as error:
        told = in_words(error, file)
        raise (_no_room(file) if isinstance(told, StoreFull) else told) from error
    except OSError as error:
        if error.errno in NO_ROOM:
            raise _no_room(file) from error
        hint = "Check that its directory is there, who owns it, and its mode."
        raise StoreError(f"{file}: {error.strerror or error}.", hint=hint) from error


def _no_room(file: Path) -> StoreFull:
    return StoreFull(
        f"The disk has no room for {file}: nothing was kept.", hint="Free some space, or name another disk."
    )
