import json
import re
import sqlite3
import subprocess
import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

import fermwatch.store
from fermwatch.clock import to_ms
from fermwatch.contracts.inbox import OutcomeState
from fermwatch.errors import StoreError, StoreVersion
from fermwatch.model.batch import Event, EventKind
from fermwatch.plain_data import to_plain, to_text
from fermwatch.store.sqlite import schema
from fermwatch.store.sqlite.connection import connect_writer
from fermwatch.store.sqlite.schema import Migration
from tests.support.samples import NOW, PROBES, VESSELS, batch, opening, reading
from tests.support.stores import open_reader, open_writer

PRESENT = schema.newest()
NEXT = PRESENT + 1
GROW = Migration(NEXT, "CREATE TABLE cellar (name TEXT) STRICT; INSERT INTO cellar VALUES ('cold'), ('warm');")
BROKEN = Migration(NEXT, "CREATE TABLE cellar (name TEXT) STRICT; INSERT INTO nowhere VALUES (1);")


@pytest.fixture
def file(directory: Path) -> Path:
    """A closed store at the present schema, with one reading."""
    with open_writer(directory, "home", NOW) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
        writer.append([reading(0)])
    return directory / "home.db"


def state(file: Path) -> tuple[int, bool, int]:
    """Schema version, whether the next migration's table is there, readings."""
    connection = sqlite3.connect(file)
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
    (readings,) = connection.execute("SELECT count(*) FROM reading").fetchone()
    assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()
    return version, "cellar" in tables, readings


def test_migrations_are_numbered_without_a_gap() -> None:
    assert [migration.number for migration in schema.migrations()] == list(range(1, schema.newest() + 1))


def test_an_upgrade_keeps_the_data_and_a_copy_from_before(file: Path) -> None:
    connection = connect_writer(file)
    schema.upgrade(connection, file, (*schema.migrations(), GROW))
    connection.close()
    assert state(file) == (NEXT, True, 1)
    assert state(file.with_suffix(f".schema-{PRESENT}.db")) == (PRESENT, False, 1)


def test_a_migration_that_fails_leaves_the_old_schema_whole(file: Path) -> None:
    connection = connect_writer(file)
    with pytest.raises(sqlite3.OperationalError, match="nowhere"):
        schema.upgrade(connection, file, (*schema.migrations(), BROKEN))
    connection.close()
    assert state(file) == (PRESENT, False, 1)


@pytest.mark.parametrize("step", range(1, 40))
def test_stopped_at_any_step_the_schema_is_the_old_or_the_new(file: Path, step: int) -> None:
    """SQLite is interrupted at its N-th look at the progress handler: everywhere within the migration, and after."""
    connection = connect_writer(file)
    looks = 0

    def interrupt() -> bool:
        nonlocal looks
        looks += 1
        return looks == step

    connection.set_progress_handler(interrupt, 5)
    try:
        schema._apply(connection, GROW)
        expected = (NEXT, True, 1)
    except sqlite3.OperationalError:
        expected = (PRESENT, False, 1)
    connection.close()
    assert state(file) == expected


def test_killed_within_a_migration_the_schema_is_the_old_one(file: Path) -> None:
    program = f"""
import os, pathlib
from fermwatch.store.sqlite import connection, schema
file = pathlib.Path({str(file)!r})
opened = connection.connect_writer(file)
opened.create_function("die", 0, lambda: os.kill(os.getpid(), 9))
schema._apply(opened, schema.Migration({NEXT}, {GROW.sql!r} + "SELECT die();"))
"""
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == -9
    assert state(file) == (PRESENT, False, 1)


def test_a_newer_schema_is_refused_by_watcher_and_reader_naming_both(file: Path, directory: Path) -> None:
    connection = sqlite3.connect(file)
    connection.execute("PRAGMA user_version = 99")
    connection.close()
    words = f"has schema 99; this fermwatch knows schemas 1 to {schema.newest()}"
    with pytest.raises(StoreVersion, match=words):
        open_writer(directory, "home", NOW)
    with pytest.raises(StoreVersion, match=words):
        open_reader(directory, "home")
    assert state(file) == (99, False, 1)


def test_an_older_schema_is_refused_by_a_reader_that_cannot_upgrade_it(file: Path, directory: Path) -> None:
    connection = sqlite3.connect(file)
    connection.execute("PRAGMA user_version = 0")
    connection.close()
    with pytest.raises(StoreVersion, match=r"has schema 0; this fermwatch reads schema .* Restart the watcher"):
        open_reader(directory, "home")


def test_another_programs_database_is_not_touched(directory: Path) -> None:
    directory.mkdir()
    connection = sqlite3.connect(directory / "home.db")
    connection.execute("CREATE TABLE recipes (name TEXT)")
    connection.close()
    with pytest.raises(StoreError, match="is not a store of fermwatch"):
        open_writer(directory, "home", NOW)
    with pytest.raises(StoreError, match="is not a store of fermwatch"):
        open_reader(directory, "home")


def test_a_file_that_is_no_database_is_not_touched(directory: Path) -> None:
    directory.mkdir()
    content = b"a letter to the brewer" * 50
    (directory / "home.db").write_bytes(content)
    with pytest.raises(StoreError, match="is not a store of fermwatch"):
        open_writer(directory, "home", NOW)
    with pytest.raises(StoreError, match="is not a store of fermwatch"):
        open_reader(directory, "home")
    assert (directory / "home.db").read_bytes() == content


def test_no_file_of_a_database_is_opened_but_by_sqlite() -> None:
    """Closing any descriptor of one drops SQLite's locks: sqlite.org/howtocorrupt.html, section 2.2."""
    allowed = {
        "lease.py": ["self._descriptor = os.open(file,"],
        "ballast.py": ["descriptor = os.open(self._file,"],
        # Of copies that nobody has open: before SQLite opens them, and after it closed them.
        "backup.py": ["descriptor = os.open(part,", "descriptor = os.open(path,"],
        "restoring.py": ["import shutil", "shutil.copyfile(source, part)"],
    }
    for source in Path(fermwatch.store.__file__).parent.rglob("*.py"):
        text = source.read_text(encoding="utf-8")
        for one in allowed.get(source.name, []):
            text = text.replace(one, "")
        assert not re.search(r"(?<![\w.])open\(|os\.open\(|\.open\(|read_bytes|write_|shutil", text), source.name
    assert "open(" in Path(schema.__file__).parent.joinpath("lease.py").read_text(encoding="utf-8")


def test_a_store_from_before_has_its_packaged_batches_out_of_their_fermenters(file: Path, directory: Path) -> None:
    """What was packaged under the first schema is so under the next, unless that was taken back."""
    file.unlink()
    connection = connect_writer(file)
    schema.upgrade(connection, file, schema.migrations()[:1])
    packaged_at = NOW - timedelta(days=3)
    connection.execute("INSERT INTO site VALUES ('home', 'UTC', 0)")
    for identity, vessel, voided in (("BATCH1", "left", 0), ("BATCH2", "right", 1)):
        plain = to_plain(replace(batch(identity, vessel), pitched_at=NOW - timedelta(days=20)))
        del plain["packaged_at"]
        row = ("home", identity, vessel, 0, 0, json.dumps(plain))
        connection.execute("INSERT INTO batch VALUES (?, ?, ?, ?, ?, ?)", row)
        done = to_text(Event(f"E{identity}", packaged_at, EventKind.PACKAGED, {"package": "keg"}))
        event = ("home", f"E{identity}", identity, to_ms(packaged_at), voided, "", done)
        connection.execute("INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?)", event)
    connection.commit()
    connection.close()
    with open_writer(directory, "home", NOW) as writer:
        assert {one.id: one.packaged_at for one in writer.batches()} == {"BATCH1": packaged_at, "BATCH2": None}
        writer.declare("UTC", VESSELS, PROBES, NOW)
        assert writer.apply(opening(batch("BATCH3", "left")), NOW).state is OutcomeState.DONE
        assert writer.apply(opening(batch("BATCH4", "right")), NOW).state is OutcomeState.REFUSED
