import fcntl
import os
import sqlite3
import stat
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest

from fermwatch.contracts.store import (
    JournalEntry,
    Writer,
)
from fermwatch.errors import ConfigError, LeaseTaken, StoreError
from tests.support.samples import NOW, PROBES, VESSELS, reading
from tests.support.stores import open_writer

FAR = NOW + timedelta(days=365)
LONG_AGO = NOW - timedelta(days=365)


def test_messages_are_not_remembered_for_ever(writer: Writer, directory: Path) -> None:
    for start in range(0, 10_000, 1_000):
        writer.append([reading(n, message_id=n) for n in range(start, start + 1_000)])
    with sqlite3.connect(directory / "home.db") as connection:
        (kept,) = connection.execute("SELECT count(*) FROM delivery").fetchone()
    connection.close()
    assert kept == 8_192
    assert writer.append([reading(20_000, message_id=9_999, redelivered=True)]).duplicates == 1


@pytest.mark.parametrize("statement", ["DELETE FROM journal", "UPDATE journal SET text = ''"])
def test_not_even_sql_rewrites_the_journal(writer: Writer, directory: Path, statement: str) -> None:
    writer.enter([JournalEntry(NOW, "watcher", "", "started")])
    connection = sqlite3.connect(directory / "home.db")
    with pytest.raises(sqlite3.IntegrityError, match="only added to"):
        connection.execute(statement)
    connection.close()


def test_a_second_watcher_is_told_who_holds_the_site(writer: Writer, directory: Path) -> None:
    with pytest.raises(LeaseTaken, match=f"already watched by process {os.getpid()}"):
        open_writer(directory, "home", NOW)
    with open_writer(directory, "shed", NOW) as other:
        assert other.site() == ("shed", "UTC")


def test_who_holds_the_lock_without_being_the_watcher_is_not_named_by_a_number_of_before(directory: Path) -> None:
    open_writer(directory, "home", NOW).close()
    lease = directory / "home.lease"
    assert lease.stat().st_mode & 0o777 == 0o600, "who may only read could hold it"
    lease.write_text("999999999\n")
    with lease.open() as other:
        fcntl.flock(other, fcntl.LOCK_EX)
        with pytest.raises(LeaseTaken, match="Another program holds"):
            open_writer(directory, "home", NOW)


def test_the_site_is_free_after_a_watcher_was_killed(directory: Path) -> None:
    program = (
        "import os, pathlib, datetime; from tests.support.stores import open_writer;"
        f"open_writer(pathlib.Path({str(directory)!r}), 'home', datetime.datetime.now(datetime.UTC));"
        "os.kill(os.getpid(), 9)"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == -9
    open_writer(directory, "home", NOW).close()


@pytest.mark.parametrize("site", ["", "../home", "Home", "a/b", "x" * 80, "home\x1b"])
def test_a_site_that_is_no_slug_becomes_no_file_name(directory: Path, site: str) -> None:
    with pytest.raises(ConfigError, match="cannot name a site"):
        open_writer(directory, site, NOW)


@pytest.mark.parametrize("umask", [0o000, 0o077])
def test_modes_are_those_meant_whatever_the_umask(directory: Path, umask: int) -> None:
    before = os.umask(umask)
    try:
        with open_writer(directory, "home", NOW) as writer:
            writer.declare("UTC", VESSELS, PROBES, NOW)
            files = {file.name: stat.S_IMODE(file.stat().st_mode) for file in directory.iterdir()}
    finally:
        os.umask(before)
    read_by_members = dict.fromkeys(("home.db", "home.db-wal", "home.db-shm", "home.ballast"), 0o640)
    assert files == read_by_members | {"home.lease": 0o600}
    assert stat.S_IMODE(directory.stat().st_mode) == 0o2750


def test_a_directory_that_was_there_keeps_its_mode(tmp_path: Path) -> None:
    tmp_path.chmod(0o700)
    open_writer(tmp_path, "home", NOW).close()
    assert stat.S_IMODE(tmp_path.stat().st_mode) == 0o700


def test_a_clean_stop_leaves_one_plain_file(writer: Writer, directory: Path) -> None:
    writer.append([reading(0)])
    writer.close()
    assert {file.name for file in directory.iterdir()} == {"home.db", "home.lease", "home.ballast"}


def test_a_store_in_a_place_that_cannot_be_made_says_so(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(StoreError, match="cannot be made"):
        open_writer(tmp_path / "file" / "store", "home", NOW)
