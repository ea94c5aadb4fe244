"""The store is taken away under a running watcher: noticed within seconds, said, and gone on with once it is back."""

import os
import shutil
import sqlite3
import time
from pathlib import Path

import pytest

from tests.support.broker import Broker
from tests.support.running import (
    Site,
    Watching,
    mqtt_source,
    probe,
    probe_of,
    serial_source,
    source_of,
    until,
    vessel,
)
from tests.support.terminal import Board

GONE = "Nothing is stored or acknowledged until then."
NO_MIGHT = ("setpriv", "--bounding-set=-dac_override,-dac_read_search")


def configured(site: Site, port: Path) -> None:
    site.configure(vessel(), serial_source("board", port, 'sequence_field = "n"'), probe("left-beer", "board", "t"))


def say(board: Board, first: int, last: int) -> None:
    board.say("", *(f"n={n} t={18 + n / 1000:.3f}" for n in range(first, last)))


def stored(site: Site) -> list[int | None]:
    return [reading.sequence for reading in site.readings("left-beer")]


def first_are_stored(site: Site, watching: Watching, board: Board) -> None:
    watching.says("is connected")
    say(board, 0, 20)
    until(lambda: len(stored(site)) == 20, "the first are stored", seen=site.log)


def in_the_journal(site: Site) -> list[str]:
    connection = sqlite3.connect(f"file:{site.store / 'home.db'}?mode=ro", uri=True)
    try:
        return [text for (text,) in connection.execute("SELECT text FROM journal WHERE kind = 'store'")]
    finally:
        connection.close()


def test_a_store_that_is_moved_away_and_back_loses_nothing(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    configured(site, port)
    with Board(port) as board, site.watched() as watching:
        first_are_stored(site, watching, board)
        away = site.store.rename(tmp_path / "away")
        watching.says(GONE)
        say(board, 20, 40)
        time.sleep(3)
        gone = site.run("status")
        assert gone.returncode != 0
        assert "There is no store" in gone.stderr
        away.rename(site.store)
        until(lambda: len(stored(site)) == 40, "what waited is stored", seen=site.log)
        assert stored(site) == list(range(40))
        site.until_status(lambda said: not said["watcher"]["trouble"], "the trouble is over")
        assert watching.stop() == 0
        assert "Traceback" not in watching.log()


def test_what_happened_to_a_board_meanwhile_is_told_once_the_store_is_back(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    configured(site, port)
    with Board(port) as board, site.watched() as watching:
        first_are_stored(site, watching, board)
        away = site.store.rename(tmp_path / "away")
        watching.says(GONE)
        board.unplug()
        watching.says("was lost")
        time.sleep(2)
        away.rename(site.store)
        told = site.until_status(lambda said: source_of(said, "board")["state"] == "unavailable", "it is away")
        assert probe_of(told, "left-beer")["freshness"] == "cut off"
        site.until_status(lambda said: not said["watcher"]["trouble"], "the store's trouble is over")


def test_a_store_that_is_deleted_is_taken_up_anew_from_its_copy(tmp_path: Path) -> None:
    """The copy has its series in another order, so that what waited must find its own."""
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    configured(site, port)
    other = Site(tmp_path / "other")
    other.configure(vessel(), serial_source("board", port), probe("x", "board", "x"), probe("left-beer", "board", "t"))
    with Board(tmp_path / "nothing"), other.watched() as watching:
        assert watching.stop() == 0
    with Board(port) as board, site.watched() as watching:
        first_are_stored(site, watching, board)
        shutil.rmtree(site.store)
        watching.says(GONE)
        say(board, 20, 40)
        time.sleep(1)
        shutil.copytree(other.store, site.store)
        watching.says("the store that lies there now is taken up")
        until(lambda: len(stored(site)) == 20, "what waited is stored", seen=site.log)
        assert stored(site) == list(range(20, 40))
        assert in_the_journal(site)
        say(board, 40, 50)
        until(lambda: stored(site)[-1] == 49, "it goes on", seen=site.log)
        said = site.until_status(lambda status: not status["watcher"]["trouble"], "the trouble is over")
        assert said["sources"][0]["state"] == "connected"
        assert watching.stop() == 0
        assert "Traceback" not in watching.log()


def test_closing_a_store_that_was_replaced_leaves_the_new_one_whole(tmp_path: Path) -> None:
    """The other store's newest rows lie in a log of its own beside it: nobody may sweep that away."""
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    configured(site, port)
    other = Site(tmp_path / "other")
    configured(other, tmp_path / "port2")
    with Board(tmp_path / "port2") as board, other.watched() as watching:
        first_are_stored(other, watching, board)
        watching.kill()
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        for name in ("home.db", "home.db-wal", "home.db-shm"):
            (other.store / name).rename(site.store / name)
        watching.says("the store that lies there now is taken up")
        say(board, 20, 30)
        until(lambda: len(stored(site)) == 30, "all of it is there", seen=site.log)
        assert watching.stop() == 0


def test_a_store_that_is_cut_short_is_told_and_nothing_more_is_acknowledged_into_it(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    configured(site, port)
    with Board(port) as board:
        with site.watched() as watching:
            first_are_stored(site, watching, board)
            assert watching.stop() == 0
        with site.watched() as watching:
            watching.says("is connected")
            file = site.store / "home.db"
            os.truncate(file, file.stat().st_size // 2)
            watching.says("The store was cut short")
            watching.says(GONE)
            watching.stop()
            assert "Traceback" not in watching.log()
        again = site.run("watch")
        assert again.returncode == 74, again.stderr
        assert "Traceback" not in again.stderr
        assert "damaged" in again.stderr


def test_an_emptied_store_is_not_begun_anew_without_a_word(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    configured(site, port)
    with Board(port), site.watched() as watching:
        watching.says("is connected")
        assert watching.stop() == 0
    os.truncate(site.store / "home.db", 0)
    again = site.run("watch")
    assert again.returncode == 74
    assert "is empty, and a store was in it before" in again.stderr


@pytest.mark.parametrize("name", ["home.db-wal", "home.db-shm"])
def test_a_log_that_is_deleted_beside_the_store_costs_nothing(tmp_path: Path, name: str) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    configured(site, port)
    with Board(port) as board, site.watched() as watching:
        first_are_stored(site, watching, board)
        (site.store / name).unlink()
        watching.says(GONE)
        say(board, 20, 40)
        watching.says("the store that lies there now is taken up")
        until(lambda: len(stored(site)) == 40, "all of it is there", seen=site.log)
        assert stored(site) == list(range(40))
        assert watching.stop() == 0


def test_a_directory_that_may_not_be_entered_is_waited_for(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site", run_by=NO_MIGHT if os.geteuid() == 0 else ()), tmp_path / "port"
    configured(site, port)
    with Board(port) as board, site.watched() as watching:
        first_are_stored(site, watching, board)
        mode = site.store.stat().st_mode
        site.store.chmod(0o000)
        try:
            watching.says("cannot be reached")
            say(board, 20, 40)
            time.sleep(2)
            assert watching.process.poll() is None
        finally:
            site.store.chmod(mode & 0o7777)
        until(lambda: len(stored(site)) == 40, "it goes on", seen=site.log)
        assert watching.stop() == 0
        assert "Traceback" not in watching.log()


@pytest.mark.needs_broker
def test_nothing_is_acknowledged_while_it_is_away(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    with Broker(tmp_path / "broker") as broker:
        site.configure(vessel(), mqtt_source("broker", broker.port, "a/{b}"), probe("left-beer", "broker", "b"))
        with site.watched() as watching:
            watching.says("is connected")
            broker.publish("a/b", "19.5")
            until(lambda: len(site.readings("left-beer")) == 1, "the first is stored", seen=site.log)
            away = site.store.rename(tmp_path / "away")
            watching.says(GONE)
            broker.publish("a/b", "19.6")
            time.sleep(1)
            watching.kill()  # had it been acknowledged, it would be lost now
        away.rename(site.store)
        with site.watched():
            until(lambda: [one.value for one in site.readings("left-beer")] == [19.5, 19.6], "it came", seen=site.log)
