"""Readers that come, stay and misbehave while a watcher writes: they never lose it a reading or stop it."""

import fcntl
import os
import sqlite3
import subprocess
import sys
from pathlib import Path

from fermwatch.store.sqlite.lease import is_held
from fermwatch.store.sqlite.writer import WAL_TROUBLE
from tests.support.running import Site, probe, serial_source, until, vessel
from tests.support.samples import NOW, PROBES, VESSELS, reading
from tests.support.stores import open_writer, readings_kept
from tests.support.terminal import Board

# Reads in a process of its own until 3,000 readings are there; says how often it looked, and whether all was sound.
WATCHER_OF_THE_WATCHER = """
import sys
from datetime import timedelta
from pathlib import Path
from tests.support.stores import open_feed, open_reader
from tests.support.samples import NOW
reader, feed = open_reader(Path(sys.argv[1]), "home"), open_feed(Path(sys.argv[1]), "home")
print("ready", flush=True)
looks = seen = 0
while seen < 3000:
    if reader.changed():
        rows = reader.readings(1, NOW, NOW + timedelta(days=300))
        assert len(rows) >= seen and len(rows) % 10 == 0, "a batch was seen half"
        seen, looks = len(rows), looks + 1
        feed.snapshot(NOW)
print(looks)
"""


def test_another_process_reads_on_while_it_is_written_and_never_sees_half_a_batch(tmp_path: Path) -> None:
    with open_writer(tmp_path, "home", NOW) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
        process = subprocess.Popen(
            [sys.executable, "-c", WATCHER_OF_THE_WATCHER, str(tmp_path)], stdout=subprocess.PIPE, text=True
        )
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        for start in range(0, 3000, 10):
            writer.append([reading(start + n) for n in range(10)])
        looks, _ = process.communicate(timeout=60)
        assert process.returncode == 0
        assert int(looks) > 1


def test_a_reader_that_never_lets_go_is_reported_and_the_log_shrinks_once_it_does(tmp_path: Path) -> None:
    with open_writer(tmp_path, "home", NOW) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
        leaked = sqlite3.connect(tmp_path / "home.db", isolation_level=None)
        leaked.execute("BEGIN")
        leaked.execute("SELECT count(*) FROM reading").fetchone()
        wal = tmp_path / "home.db-wal"
        minute = 0
        while wal.stat().st_size <= WAL_TROUBLE:
            assert writer.trouble() == ""
            writer.append([reading(minute + n, series=1 + n % 3) for n in range(5000)])
            minute += 5000
        assert "never lets go of it: home.db-wal has grown to 16 MB" in writer.trouble()
        leaked.close()
        for later in range(20):
            writer.append([reading(minute + later)])
        assert wal.stat().st_size < WAL_TROUBLE
        assert writer.trouble() == ""


def test_a_reader_that_is_there_at_a_clean_stop_loses_nothing(tmp_path: Path) -> None:
    writer = open_writer(tmp_path, "home", NOW)
    writer.declare("UTC", VESSELS, PROBES, NOW)
    writer.append([reading(0)])
    leaked = sqlite3.connect(tmp_path / "home.db", isolation_level=None)
    leaked.execute("BEGIN")
    assert leaked.execute("SELECT count(*) FROM reading").fetchone() == (1,)
    writer.close()
    with open_writer(tmp_path, "home", NOW) as again:
        again.append([reading(1)])
        assert readings_kept(tmp_path) == 2
    leaked.close()


def test_who_may_only_read_and_locks_the_store_is_told_and_loses_it_nothing(tmp_path: Path) -> None:
    """The lock that SQLite's writer takes first (sqlite.org/walformat.html, section 2.3.1: byte 120 of the index of the
    log) can be held by whoever may read the file: nobody can then write."""
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    site.configure(vessel(), serial_source("board", port, 'sequence_field = "n"'), probe("left-beer", "board", "t"))
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        board.say("", *(f"n={number} t=18.5" for number in range(10)))
        until(lambda: len(site.readings("left-beer")) == 10, "the first are stored", seen=site.log)
        held = is_held(site.store / "home.lease")  # where this machine's file system lets that be known
        told = "the watcher runs, and has written nothing for" if held else "nobody is watching"
        index = os.open(site.store / "home.db-shm", os.O_RDONLY)
        fcntl.lockf(index, fcntl.LOCK_SH, 1, 120)
        board.say("", *(f"n={number} t=18.5" for number in range(10, 20)))
        watching.says("home.db is locked by another program. Close whatever else has it open")
        site.until_status(lambda said: said["headline"]["text"].startswith(told), "the headline tells it")
        if held:
            assert "It has written nothing since" in " ".join(site.run("status").stdout.split())
        os.close(index)
        until(lambda: len(site.readings("left-beer")) == 20, "what waited is stored", seen=site.log)
        site.until_status(lambda said: said["headline"]["matter"] != "store", "it is over")
