"""Pages of the store are overwritten in place under a running watcher: same file, same size, SQLite is not asked."""

import os
import sqlite3
from pathlib import Path

import pytest

from tests.support.running import Site, probe, serial_source, until, vessel
from tests.support.terminal import Board

GUARD_S = 240.0  # where a look takes a slow machine long, the next one is as much later


def page_of(store: Path, table: str) -> tuple[int, int]:
    """Where the tree of a table begins in the file, and how long a page is, in bytes."""
    connection = sqlite3.connect(store / "home.db")
    try:
        (root,) = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", (table,)).fetchone()
        (size,) = connection.execute("PRAGMA page_size").fetchone()
    finally:
        connection.close()
    return (int(root) - 1) * int(size), int(size)


@pytest.mark.parametrize("written", [bytes(256), bytes(range(256))], ids=["zeros", "rubbish"])
def test_overwritten_pages_are_told_and_so_is_their_mending(tmp_path: Path, written: bytes) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    site.configure(vessel(), serial_source("board", port), probe("left-beer", "board", "t"))
    with site.watched() as watching:
        assert watching.stop() == 0
    place, page = page_of(site.store, "outcome")  # which no picture of the store is made of
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        board.say("", "t=18.5")
        until(lambda: len(site.readings("left-beer")) == 1, "the first is stored", seen=site.log)
        site.until_status(lambda said: not said["watcher"]["trouble"], "all is well before")
        file = os.open(site.store / "home.db", os.O_RDWR)
        try:
            before = os.pread(file, page, place)
            assert os.pwrite(file, written * (page // 256), place) == page
            told = site.until_status(lambda said: said["watcher"]["trouble"], "it is told", guard_s=GUARD_S)
            watching.says("home.db is damaged (")
            assert told["headline"]["level"] == "critical"
            assert "the store is in trouble: " in told["headline"]["text"]
            assert "put a backup in its place" in told["watcher"]["trouble"]
            board.say("", "t=18.6")
            until(lambda: len(site.readings("left-beer")) == 2, "readings are stored on", seen=site.log)
            os.pwrite(file, before, place)
        finally:
            os.close(file)
        site.until_status(lambda said: not said["watcher"]["trouble"], "it is mended", guard_s=GUARD_S)
        assert watching.stop() == 0
        assert "Traceback" not in watching.log()
