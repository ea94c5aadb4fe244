"""A backup put in the place of a store: copied beside it, read whole, and only then renamed in. What lay there before
is kept under another name.

The journal files of another database in its place would be played into it (sqlite.org/howtocorrupt.html, section 1.4):
they go aside with the file that they belong to, and before it.
"""

import contextlib
import itertools
import os
import shutil
import sqlite3
import stat
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from fermwatch.clock import to_ms
from fermwatch.contracts.backup import Contents, Restored
from fermwatch.contracts.store import JournalEntry, Reader
from fermwatch.errors import InputError, LeaseTaken, StoreError, StoreFull
from fermwatch.store.sqlite.backup import counted, look_into, part_of, sync, told_of
from fermwatch.store.sqlite.connection import (
    DIRECTORY_MODE,
    connect_alone,
    connect_reader,
    connect_writer,
    errors_in_words,
    make_directory,
)
from fermwatch.store.sqlite.lease import Lease
from fermwatch.store.sqlite.reader import SqliteReader

BESIDE = ("-wal", "-shm", "-journal")
Entries = Callable[[Reader], Sequence[JournalEntry]]

_ENTER = "INSERT INTO journal (site, at_ms, kind, subject, text) VALUES (?, ?, ?, ?, ?)"


def restore(file: Path, site: str, source: Path, now: datetime, *, replace: bool, entries: Entries) -> Restored:
    """contracts.store.Store.restore into `file`."""
    _check_is_a_backup(source, file)
    make_directory(file.parent, DIRECTORY_MODE)
    lease = _lease(file, site)
    try:
        held = _held(file, site)
        if held.what and not replace:
            raise InputError(
                f"{file} holds {held.what}. Nothing was changed.",
                hint="Add --replace, and it is kept aside under another name while the backup takes its place.",
            )
        with part_of(file) as part:
            _copy(source, part)
            look_into(part, site, told_as=source)
            _enter(part, site, entries)
            contents = look_into(part, site, told_as=source)
            _give_to_the_owner(file.parent, part)
            with told_of(file):
                aside = _put_aside(file, now, fold=held.readable)
                part.replace(file)
                sync(file.parent)
    finally:
        lease.release()
    return Restored(contents, aside)


def _check_is_a_backup(source: Path, file: Path) -> None:
    """As far as can be seen without opening it: a device or a pipe is never opened."""
    with told_of(source):
        seen = source.stat()
        beside = [one for part in BESIDE if (one := source.with_name(source.name + part)).exists()]
    if not stat.S_ISREG(seen.st_mode):
        raise StoreError(f"{source} is no regular file.", hint="Name the file that `fermwatch backup FILE` wrote.")
    if file.exists() and source.samefile(file):
        raise InputError(f"{source} is the store itself.", hint="Name the file that `fermwatch backup FILE` wrote.")
    if beside:
        raise StoreError(
            f"{source} may not be whole without {beside[0].name}, which lies beside it.",
            hint="It was in use when it was copied: take a file that `fermwatch backup FILE` wrote.",
        )


def _lease(file: Path, site: str) -> Lease:
    try:
        with errors_in_words(file):
            lease = Lease(file.with_suffix(".lease"), site)
    except LeaseTaken as error:
        raise LeaseTaken(
            f"{error.message} Nothing is put in the place of a store that is in use.",
            hint="Stop the watcher, restore, and start it again.",
        ) from error
    _give_to_the_owner(file.parent, file.with_suffix(".lease"))
    return lease


class _Held(NamedTuple):
    """What would be put aside, in words; empty where it is nothing. readable: whether SQLite can open it."""

    what: str = ""
    readable: bool = True


def _held(file: Path, site: str) -> _Held:
    if not file.exists() or not file.stat().st_size:
        return _Held()
    try:
        with contextlib.closing(connect_reader(file)) as connection, errors_in_words(file):
            held = counted(connection, site)
    except StoreError as error:
        return _Held(f"what cannot be read ({error.message.rstrip('.')})", readable=False)
    return _Held(_told(held) if held.anything else "")


def _told(held: Contents) -> str:
    return f"{held.readings} readings, {held.batches} batches and {held.measurements} measurements"


def _copy(source: Path, part: Path) -> None:
    with told_of(part.parent):
        room = os.statvfs(part.parent)
    size = source.stat().st_size
    if size > room.f_bavail * room.f_frsize:
        raise StoreFull(f"{part.parent} has no room for {size >> 20} MB: nothing was changed.", hint="Free some space.")
    with told_of(part.parent):
        shutil.copyfile(source, part)
        sync(part)


def _enter(part: Path, site: str, entries: Entries) -> None:
    """What the journal is to say of it, before anybody else can read it."""
    with told_of(part), contextlib.closing(connect_alone(part, "rw")) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
        told = entries(SqliteReader(connection, part, site))
        connection.execute("BEGIN IMMEDIATE")
        rows = [(site, to_ms(one.at), one.kind, one.subject, one.text) for one in told]
        connection.executemany(_ENTER, rows)
        connection.execute("COMMIT")


def _give_to_the_owner(directory: Path, path: Path) -> None:
    """What the administrator restores must be the watcher's to write."""
    if os.geteuid() == 0:
        owner = directory.stat()
        os.chown(path, owner.st_uid, owner.st_gid)


def _put_aside(file: Path, now: datetime, *, fold: bool) -> str:
    """Under a name with the time in it. What cannot be read is not so much as opened: SQLite would clear away what
    lies beside it, of which somebody may save something."""
    if not file.exists():
        return ""
    if fold:
        _fold(file)
    aside = _free_name(file, now)
    for part in BESIDE:
        beside = file.with_name(file.name + part)
        if beside.exists():
            beside.rename(aside.with_name(aside.name + part))
    try:
        aside.hardlink_to(file)  # its name is taken over in one step: there is no instant without a store
    except FileExistsError:
        raise
    except OSError:  # sticks and cards know no second name: for an instant there is none at all
        file.rename(aside)
    return str(aside)


def _free_name(file: Path, now: datetime) -> Path:
    """With the time in it, and where that second has one already, its number."""
    endings = itertools.chain([""], (f"-{number}" for number in itertools.count(2)))
    names = (file.with_suffix(f".before-{now:%Y%m%dT%H%M%SZ}{ending}.db") for ending in endings)
    return next(
        name for name in names if not any(os.path.lexists(name.with_name(name.name + part)) for part in ("", *BESIDE))
    )


def _fold(file: Path) -> None:
    """All of it into one file, as far as whoever reads lets it."""
    with contextlib.suppress(StoreError, sqlite3.Error), contextlib.closing(connect_writer(file)) as connection:
        connection.execute("PRAGMA busy_timeout = 0")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        connection.execute("PRAGMA journal_mode = DELETE")
