"""Signals to a running watcher, and what somebody else's words may do to its log."""

import signal
import time
from pathlib import Path

import pytest

from fermwatch.contracts.inbox import RequestKind
from tests.support.running import Site, Watching, probe, serial_source, until, vessel
from tests.support.terminal import Board


def hang_up(watching: Watching) -> None:
    watching.process.send_signal(signal.SIGHUP)


def test_a_hang_up_reads_the_configuration_anew_and_loses_nothing(tmp_path: Path) -> None:
    site, port, second = Site(tmp_path / "site"), tmp_path / "port", tmp_path / "second"
    first = (vessel(), serial_source("board", port), probe("left-beer", "board", "t"))
    site.configure(*first)
    with Board(port) as board, Board(second) as other, site.watched() as watching:
        watching.says("is connected")
        board.say("", "t=19.5")
        until(lambda: len(site.readings("left-beer")) == 1, "the first is stored", seen=site.log)
        site.configure(
            *first, vessel("right"), serial_source("new", second), probe("right-beer", "new", "t", vessel="right")
        )
        hang_up(watching)
        watching.says("source new is connected")
        other.say("", "t=18.5")
        until(lambda: len(site.readings("right-beer")) == 1, "the new fermenter is heard", seen=site.log)
        board.say("", "t=19.6")
        until(lambda: len(site.readings("left-beer")) == 2, "so is the old one", seen=site.log)
        assert watching.stop() == 0
        assert "Traceback" not in watching.log()


def test_a_hang_up_with_a_configuration_that_is_wrong_keeps_the_one_before(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    site.configure(vessel(), serial_source("board", port), probe("left-beer", "board", "t"))
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        site.configure('[[vessel]]\nid = "left"\nnam = "Left"')
        hang_up(watching)
        watching.says("the configuration is not taken up, the one before goes on")
        assert "vessel[1].nam" in watching.log()
        told = site.until_status(lambda said: said["headline"]["matter"] == "configuration", "a person sees it too")
        assert "vessel[1].nam" in told["headline"]["text"]
        board.say("", "t=19.5")
        time.sleep(0.5)
        assert watching.process.poll() is None
        assert watching.stop() == 0


def test_a_hang_up_that_names_another_site_is_refused_and_told(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    site.configure(vessel(), serial_source("board", port), probe("left-beer", "board", "t"))
    with Board(port), site.watched() as watching:
        watching.says("is connected")
        site.config.write_text(f'[site]\nname = "elsewhere"\n{site.config.read_text()}')
        hang_up(watching)
        watching.says("it names another store or site")
        assert watching.process.poll() is None
        assert watching.stop() == 0


def test_a_hang_up_while_the_store_is_away_begins_no_other_store(tmp_path: Path) -> None:
    """What waits for the store to come back, as a broker's messages, must not be acknowledged into a new one."""
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    site.configure(vessel(), serial_source("board", port), probe("left-beer", "board", "t"))
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        board.say("", "t=19.5")
        until(lambda: len(site.readings("left-beer")) == 1, "the first is stored", seen=site.log)
        aside = site.store.with_name("aside")
        site.store.rename(aside)
        hang_up(watching)
        watching.says("the store is away")
        board.say("t=19.6")
        time.sleep(2.0)
        assert not (site.store / "home.db").exists()
        aside.rename(site.store)
        watching.says("the store is back")
        until(lambda: len(site.readings("left-beer")) == 2, "what waited is stored", seen=site.log)
        hang_up(watching)
        watching.says("the configuration is read anew")
        assert watching.stop() == 0


def _heeds(watching: Watching, number: signal.Signals) -> bool:
    """Whether the process blocks or catches it, by proc(5): before, the interpreter itself is still starting."""
    status = Path(f"/proc/{watching.process.pid}/status").read_text()
    masks = [int(line.split()[1], 16) for line in status.splitlines() if line.startswith(("SigBlk:", "SigCgt:"))]
    return any(mask >> (number - 1) & 1 for mask in masks)


@pytest.mark.parametrize("after_s", [0.0, 0.3, 0.6, 1.0])
def test_a_hang_up_while_it_starts_does_not_end_it(tmp_path: Path, after_s: float) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    site.configure(vessel(), serial_source("board", port), probe("left-beer", "board", "t"))
    with Board(port) as board:
        watching = site.start()
        try:
            until(lambda: _heeds(watching, signal.SIGHUP), "the program has begun", seen=site.log)
            time.sleep(after_s)
            hang_up(watching)
            watching.says("is connected")

            def it_watches() -> bool:
                board.say("", "t=19.5")  # again: what is said while it reads anew is nobody's
                return bool(site.readings("left-beer"))

            until(it_watches, "it watches", seen=site.log)
            assert watching.stop() == 0
        finally:
            watching.kill()


def test_a_stop_that_follows_a_hang_up_stops(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    site.configure(vessel())
    with site.watched() as watching:
        hang_up(watching)
        assert watching.stop() == 0


def test_nobody_forges_a_line_of_the_log(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    site.configure(vessel())
    with site.watched() as watching:
        forged = "eve\nERROR the store was taken away\r\x1b[2K\u2028ERROR again"
        site.ask(RequestKind.ACKNOWLEDGE, {"rule": forged, "subject": forged}, user=forged)
        watching.says("acknowledge by ")
        assert not [line for line in watching.log().splitlines() if line.startswith("ERROR")]
        assert not any(ord(sign) < 32 for sign in watching.log().replace("\n", ""))
        assert watching.stop() == 0
