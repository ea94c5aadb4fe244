"""What only a file of SQLite can do to a backup: hostile schemas, files beside it, no room, a writer at work."""

import contextlib
import os
import sqlite3
import stat
import threading
from collections.abc import Sequence
from pathlib import Path

import pytest

from fermwatch.contracts.store import JournalEntry, Reader
from fermwatch.errors import InputError, StoreError, StoreFull, StoreVersion
from fermwatch.store import rows
from fermwatch.store.sqlite import backup as backing_up
from fermwatch.store.sqlite import schema
from fermwatch.store.sqlite.connection import connect_alone, connect_writer
from fermwatch.store.sqlite.place import SqliteStore
from tests.support.samples import NOW, PROBES, VESSELS, reading
from tests.support.stores import open_reader, open_writer, readings_kept


@pytest.fixture
def backup(tmp_path: Path) -> Path:
    with open_writer(tmp_path / "store", "home", NOW, ballast_bytes=4096) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
        writer.append([reading(minute) for minute in range(100)])
        SqliteStore(tmp_path / "store", "home").back_up(tmp_path / "backup.db")
    return tmp_path / "backup.db"


def no_line(reader: Reader) -> Sequence[JournalEntry]:
    return []


def restore(directory: Path, backup: Path) -> None:
    SqliteStore(directory, "home").restore(backup, NOW, replace=True, entries=no_line)


def change(backup: Path, *statements: str) -> None:
    with contextlib.closing(sqlite3.connect(backup, isolation_level=None)) as connection:
        for statement in statements:
            connection.execute(statement)


HOSTILE = {
    "a trigger of its own": "CREATE TRIGGER t AFTER INSERT ON reading BEGIN DELETE FROM batch; END",
    "a view of its own": "CREATE VIEW v AS SELECT 1",
    "no trigger": "DROP TRIGGER journal_is_not_erased",
    "no table": "DROP TABLE batch",
    "no column": "ALTER TABLE journal DROP COLUMN text",
    "another program's": "PRAGMA application_id = 7",
}


@pytest.mark.parametrize("statement", HOSTILE.values(), ids=HOSTILE.keys())
def test_what_fermwatch_did_not_make_is_refused(tmp_path: Path, backup: Path, statement: str) -> None:
    if "COLUMN" in statement:
        change(backup, "DROP TRIGGER journal_is_not_rewritten", "DROP TRIGGER journal_is_not_erased")
    change(backup, statement)
    with pytest.raises(StoreError) as told:
        restore(tmp_path / "other", backup)
    assert told.value.hint
    assert not (tmp_path / "other" / "home.db").exists()
    assert [one.name for one in (tmp_path / "other").iterdir()] == ["home.lease"]


def test_a_trigger_that_bears_a_known_name_is_refused_too(tmp_path: Path, backup: Path) -> None:
    change(
        backup,
        "DROP TRIGGER journal_is_not_erased",
        "CREATE TRIGGER journal_is_not_erased AFTER INSERT ON journal BEGIN DELETE FROM reading; END",
    )
    with pytest.raises(StoreError, match="never made: journal_is_not_erased"):
        restore(tmp_path / "other", backup)


def test_a_newer_schema_is_refused_and_an_older_one_is_brought_up_to_date_by_the_next_writer(
    tmp_path: Path, backup: Path
) -> None:
    newer = tmp_path / "newer.db"
    newer.write_bytes(backup.read_bytes())
    change(newer, "PRAGMA user_version = 99")
    with pytest.raises(StoreVersion, match=r"newer\.db has schema 99"):
        restore(tmp_path / "other", newer)
    restore(tmp_path / "other", of_an_older_version(tmp_path / "older.db"))
    with pytest.raises(StoreVersion, match="Restart the watcher"):
        open_reader(tmp_path / "other", "home")
    open_writer(tmp_path / "other", "home", NOW, ballast_bytes=4096).close()
    assert readings_kept(tmp_path / "other") == 1


def of_an_older_version(file: Path) -> Path:
    """As the version before wrote it, with one reading."""
    with contextlib.closing(connect_writer(file)) as connection:
        schema.upgrade(connection, file, schema.migrations()[:-1])
        connection.execute("INSERT INTO site (site, timezone, begun_at_ms) VALUES ('home', 'UTC', 0)")
        probe = rows.PROBE.row(PROBES[0])
        connection.execute("INSERT INTO series VALUES (1, 'home', 'left-beer', 'beer-temperature', 0, 1, ?)", (probe,))
        connection.execute("INSERT INTO reading VALUES (1, 0, 0, 20.0, 0, NULL, 0)")
        connection.execute("PRAGMA journal_mode = DELETE")
    return file


def test_a_copy_of_files_in_use_is_no_backup(tmp_path: Path, backup: Path) -> None:
    (tmp_path / "backup.db-wal").write_bytes(b"x" * 100)
    with pytest.raises(StoreError, match=r"may not be whole without backup\.db-wal"):
        restore(tmp_path / "other", backup)


def test_a_pipe_is_never_opened_and_the_store_is_no_backup_of_itself(tmp_path: Path, backup: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(StoreError, match="no regular file"):
        restore(tmp_path / "other", tmp_path / "pipe")
    with pytest.raises(InputError, match="is the store itself"):
        restore(tmp_path / "store", tmp_path / "store" / "home.db")


def test_a_damaged_store_is_replaced_and_what_is_left_of_it_kept(tmp_path: Path, backup: Path) -> None:
    file = tmp_path / "store" / "home.db"
    file.write_bytes(b"not a store any more" * 500)
    (tmp_path / "store" / "home.db-wal").write_bytes(b"of the damaged one")
    with pytest.raises(InputError, match="holds what cannot be read"):
        SqliteStore(tmp_path / "store", "home").restore(backup, NOW, replace=False, entries=no_line)
    restore(tmp_path / "store", backup)
    assert readings_kept(tmp_path / "store") == 100
    aside = {one.name: one.read_bytes() for one in (tmp_path / "store").glob("home.before-*")}
    assert aside["home.before-20260301T120000Z.db"] == b"not a store any more" * 500
    assert aside["home.before-20260301T120000Z.db-wal"] == b"of the damaged one"


def test_what_is_put_aside_twice_in_one_second_is_kept_twice(tmp_path: Path, backup: Path) -> None:
    for _ in range(3):
        restore(tmp_path / "store", backup)
    aside = sorted(one.name for one in (tmp_path / "store").glob("home.before-*.db"))
    assert aside == [f"home.before-20260301T120000Z{again}.db" for again in ("-2", "-3", "")]


def test_a_file_system_without_second_names_keeps_what_was_there_all_the_same(
    tmp_path: Path, backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(path: Path, target: Path) -> None:
        raise PermissionError(1, "Operation not permitted", str(path), None, str(target))

    monkeypatch.setattr(Path, "hardlink_to", refused)  # as on a stick with FAT
    restore(tmp_path / "store", backup)
    assert readings_kept(tmp_path / "store") == 100
    with contextlib.closing(sqlite3.connect(tmp_path / "store" / "home.before-20260301T120000Z.db")) as connection:
        assert connection.execute("SELECT count(*) FROM reading").fetchone() == (100,)


def test_what_a_killed_watcher_left_in_its_journal_goes_aside_with_its_store(tmp_path: Path, backup: Path) -> None:
    store = tmp_path / "store"
    killed = os.fork()
    if not killed:
        writer = open_writer(store, "home", NOW, ballast_bytes=4096)
        writer.append([reading(500)])
        os._exit(0)  # without a word, as when it is killed
    os.waitpid(killed, 0)
    assert (store / "home.db-wal").stat().st_size > 0
    restore(store, backup)
    assert readings_kept(store) == 100
    with contextlib.closing(sqlite3.connect(store / "home.before-20260301T120000Z.db")) as connection:
        assert connection.execute("SELECT count(*) FROM reading").fetchone() == (101,)


def test_without_room_nothing_is_left_behind(tmp_path: Path, backup: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = sorted(tmp_path.iterdir())

    def of_three_pages(file: Path, mode: str) -> sqlite3.Connection:
        connection = connect_alone(file, mode)
        connection.execute("PRAGMA max_page_count = 3")
        return connection

    monkeypatch.setattr(backing_up, "connect_alone", of_three_pages)
    with pytest.raises(StoreFull, match=r"no room for .*another\.db: nothing was kept"):
        SqliteStore(tmp_path / "store", "home").back_up(tmp_path / "another.db")
    assert sorted(tmp_path.iterdir()) == before


def test_beside_a_busy_writer_each_backup_is_whole_and_no_commit_is_lost(tmp_path: Path) -> None:
    stop, written = threading.Event(), 0
    store = SqliteStore(tmp_path / "store", "home", ballast_bytes=4096)
    writer = store.writer(NOW)
    writer.declare("UTC", VESSELS, PROBES, NOW)

    def write() -> None:
        nonlocal written
        while not stop.is_set():
            writer.append([reading(written + n) for n in range(7)])
            written += 7

    thread = threading.Thread(target=write)
    thread.start()
    try:
        counts = [store.back_up(tmp_path / f"{number}.db").readings for number in range(12)]
    finally:
        stop.set()
        thread.join()
        writer.close()
    assert counts == sorted(counts)
    assert all(count % 7 == 0 for count in counts), "of one instant: a commit is in it whole or not at all"
    assert counts[-1] > counts[0]
    assert readings_kept(tmp_path / "store") == written


def test_its_mode_lets_nobody_else_read_it(tmp_path: Path, backup: Path) -> None:
    assert stat.S_IMODE(backup.stat().st_mode) == 0o640
