import os
import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from fermwatch.contracts.store import Reader, Writer
from fermwatch.errors import StoreError, StoreMissing
from fermwatch.store.sqlite.connection import connect_reader
from tests.support.samples import NOW, PROBES, VESSELS, reading
from tests.support.stores import open_reader, open_writer
from tests.unit.store.sqlite.somebody import somebody_who_may_not_write


def count(directory: Path) -> int:
    with open_reader(directory, "home") as reader:
        return len(reader.readings(1, NOW, NOW + timedelta(days=1)))


def test_where_there_is_no_store_the_next_step_is_named(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match=r"no store at .* Start `fermwatch watch` once, or try `fermwatch demo`\."):
        open_reader(tmp_path, "home")
    assert list(tmp_path.iterdir()) == []


def test_of_a_site_that_is_not_there_those_that_are_are_named(writer: Writer, directory: Path) -> None:
    (directory / "home.before-20260301T120000Z.db").touch()
    (directory / "\x1b[31m.db").touch()
    (directory / "a-directory.db").mkdir()
    os.mkfifo(directory / "pipe.db")
    with pytest.raises(StoreMissing, match="There is no site shed in ") as raised:
        open_reader(directory, "shed")
    assert raised.value.hint == "There is: home. Say one by --site, or start `fermwatch watch` for shed."
    with pytest.raises(StoreError, match="no regular file"):
        open_reader(directory, "pipe")


def test_who_may_only_read_does_so_while_it_is_written(writer: Writer, directory: Path) -> None:
    writer.append([reading(0)])
    with somebody_who_may_not_write(directory):
        assert count(directory) == 1


def test_who_may_only_read_does_so_after_a_clean_stop(writer: Writer, directory: Path) -> None:
    writer.append([reading(0)])
    writer.close()
    with somebody_who_may_not_write(directory):
        assert count(directory) == 1
    assert not (directory / "home.db-shm").exists()


def test_who_may_only_read_does_so_after_the_watcher_was_killed(directory: Path) -> None:
    child = os.fork()
    if child == 0:
        writer = open_writer(directory, "home", NOW)
        writer.declare("UTC", VESSELS, PROBES, NOW)
        writer.append([reading(0)])
        os.kill(os.getpid(), 9)
    assert os.waitpid(child, 0)[1] == 9
    assert (directory / "home.db-wal").stat().st_size > 0
    with somebody_who_may_not_write(directory):
        assert count(directory) == 1


def test_who_may_not_read_is_told_what_to_do(writer: Writer, directory: Path) -> None:
    (directory / "home.db").chmod(0o000)
    with (
        somebody_who_may_not_write(directory),
        pytest.raises(StoreError, match=r"may not be read by .* Check who owns it, and its mode"),
    ):
        open_reader(directory, "home")


def test_a_reader_can_write_nothing(writer: Writer, directory: Path) -> None:
    writer.append([reading(0)])
    with (
        closing(connect_reader(directory / "home.db")) as connection,
        pytest.raises(sqlite3.OperationalError, match="readonly"),
    ):
        connection.execute("DELETE FROM reading")


def test_no_read_holds_up_who_writes(writer: Writer, reader: Reader, directory: Path) -> None:
    """SQLite can put all that was written where it belongs only while nobody reads."""
    writer.append([reading(0)])
    reader.buckets(1, NOW, NOW + timedelta(days=1), 10)
    reader.readings(1, NOW, NOW + timedelta(days=1))
    with pytest.raises(ValueError, match="stop"), reader.at_one_instant():
        raise ValueError("stop")
    with closing(sqlite3.connect(directory / "home.db")) as another:
        assert another.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone() == (0, 0, 0)
