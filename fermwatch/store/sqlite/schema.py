"""The schema's versions: numbered migrations, each in one transaction, and what this version can read."""

import re
import sqlite3
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path

from fermwatch.errors import StoreError, StoreVersion

APPLICATION_ID = 0x6665726D  # "ferm"
_NAME = re.compile(r"(\d{4})_[a-z_]+\.sql")


@dataclass(frozen=True, slots=True)
class Migration:
    number: int
    sql: str


@cache
def migrations() -> tuple[Migration, ...]:
    """All that ship with this version, in order."""
    found = []
    for file in resources.files("fermwatch.store.sqlite").joinpath("migrations").iterdir():
        matched = _NAME.fullmatch(file.name)
        if matched:
            found.append(Migration(int(matched[1]), file.read_text(encoding="utf-8")))
    return tuple(sorted(found, key=lambda migration: migration.number))


def newest() -> int:
    return migrations()[-1].number


def version_of(connection: sqlite3.Connection) -> int:
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def upgrade(connection: sqlite3.Connection, file: Path, known: tuple[Migration, ...] | None = None) -> None:
    """Bring the store to the newest schema; one that holds data is first copied beside itself.

    Raises StoreVersion for a newer schema, StoreError for another program's database. Killed at any point, the store
    is at one migration or the next, never between.
    """
    known = migrations() if known is None else known
    check_owner(connection, file)
    present = version_of(connection)
    refuse_newer(present, known[-1].number, file)
    waiting = [migration for migration in known if migration.number > present]
    if waiting and present > 0:
        _copy_beside(connection, file, present)
    for migration in waiting:
        _apply(connection, migration)


def check_readable(connection: sqlite3.Connection, file: Path) -> None:
    """Raises StoreVersion or StoreError where this version cannot read the store."""
    check_owner(connection, file)
    present = version_of(connection)
    refuse_newer(present, newest(), file)
    if present < newest():
        raise StoreVersion(
            f"{file} has schema {present}; this fermwatch reads schema {newest()}.",
            hint="Restart the watcher with this version: it brings the store up to date.",
        )


def check_owner(connection: sqlite3.Connection, file: Path) -> None:
    application_id = connection.execute("PRAGMA application_id").fetchone()[0]
    if application_id == APPLICATION_ID:
        return
    tables = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    if application_id != 0 or tables:
        raise StoreError(f"{file} is not a store of fermwatch.", hint="Move it aside, or name another directory.")


def refuse_newer(present: int, supported: int, file: Path) -> None:
    if present > supported:
        raise StoreVersion(
            f"{file} has schema {present}; this fermwatch knows schemas 1 to {supported}.",
            hint="It was written by a newer version: update this one.",
        )


def _copy_beside(connection: sqlite3.Connection, file: Path, present: int) -> None:
    copy = file.with_suffix(f".schema-{present}.db")
    copy.unlink(missing_ok=True)
    connection.execute("VACUUM INTO ?", (str(copy),))
    copy.chmod(0o640)


def _apply(connection: sqlite3.Connection, migration: Migration) -> None:
    try:
        connection.executescript(
            f"BEGIN IMMEDIATE;\n{migration.sql}\n"
            f"PRAGMA application_id = {APPLICATION_ID};\nPRAGMA user_version = {migration.number};\nCOMMIT;"
        )
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
