import os
from datetime import timedelta
from pathlib import Path

import pytest

from fermwatch.errors import StoreError
from fermwatch.store.sqlite.reader import SqliteReader, open_reader
from fermwatch.store.sqlite.writer import SqliteWriter, open_writer
from tests.unit.store.samples import NOW, PROBES, VESSELS, reading
from tests.unit.store.somebody import somebody_who_may_not_write


def count(directory: Path) -> int:
    with open_reader(directory, "home") as reader:
        return len(reader.readings(1, NOW, NOW + timedelta(days=1)))


def test_where_there_is_no_store_the_next_step_is_named(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match=r"no store at .* Start `fermwatch watch` once, or try `fermwatch demo`\."):
        open_reader(tmp_path, "home")
    assert list(tmp_path.iterdir()) == []


def test_who_may_only_read_does_so_while_it_is_written(writer: SqliteWriter, directory: Path) -> None:
    writer.append([reading(0)])
    with somebody_who_may_not_write(directory):
        assert count(directory) == 1


def test_who_may_only_read_does_so_after_a_clean_stop(writer: SqliteWriter, directory: Path) -> None:
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


def test_who_may_not_read_is_told_what_to_do(writer: SqliteWriter, directory: Path) -> None:
    (directory / "home.db").chmod(0o000)
    with (
        somebody_who_may_not_write(directory),
        pytest.raises(StoreError, match=r"may not be read by .* Check who owns it, and its mode"),
    ):
        open_reader(directory, "home")


def test_a_reader_writes_nothing(reader: SqliteReader) -> None:
    with pytest.raises(StoreError, match="may not be written"):
        reader._rows("DELETE FROM reading")


def test_reads_within_one_instant_see_nothing_newer(writer: SqliteWriter, reader: SqliteReader) -> None:
    with reader.at_one_instant():
        before = reader.latest()
        writer.append([reading(0)])
        assert reader.latest() == before
    assert len(reader.latest()) == 1


def test_no_read_leaves_a_transaction_open(writer: SqliteWriter, reader: SqliteReader) -> None:
    writer.append([reading(0)])
    reader.buckets(1, NOW, NOW + timedelta(days=1), 10)
    reader.readings(1, NOW, NOW + timedelta(days=1))
    with pytest.raises(ValueError, match="stop"), reader.at_one_instant():
        raise ValueError("stop")
    assert not reader._connection.in_transaction


def test_a_row_of_another_version_is_named_and_not_guessed_at(writer: SqliteWriter, reader: SqliteReader) -> None:
    writer._connection.execute("INSERT INTO watcher VALUES ('home', '{\"version\": 7}')")
    with pytest.raises(StoreError, match=r"holds a WatcherStatus .*version: expected text.*update the older"):
        reader.watcher()
