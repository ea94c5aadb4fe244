"""The machine's clock is set under a running watcher: it goes on, and says nothing of the beer that is not so."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

import pytest

from tests.support.false_time import FalseTime
from tests.support.running import Site, Watching, probe, serial_source, standing, until, vessel
from tests.support.terminal import Board

pytestmark = pytest.mark.needs_faketime

YEAR, HOURS = timedelta(days=365), timedelta(hours=3)
SOON = "[rules]\noutside_critical_min = 0.03\noutside_warning_h = 0.05"  # an alarm that a test can wait for


@contextmanager
def watched(tmp_path: Path) -> Iterator[tuple[Site, Watching, Board, FalseTime]]:
    """An ale ten hours old, in range, heard a few times a second, decided upon."""
    clock = FalseTime(tmp_path / "clock")
    site, port = Site(tmp_path / "site", environment=clock.environment), tmp_path / "port"
    site.configure(SOON, vessel(), serial_source("board", port), probe("left-beer", "board", "t", "silent_after_s = 5"))
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        site.open_batch("left", age=timedelta(hours=10))
        speak(board, 19.0, 2.0)
        yield site, watching, board, clock


def speak(board: Board, celsius: float, seconds: float) -> None:
    end_s = time.monotonic() + seconds
    while time.monotonic() < end_s:
        board.say(f"t={celsius}")
        time.sleep(0.2)


def speak_until(board: Board, celsius: float, holds: Callable[[], object], what: str, site: Site) -> None:
    def so() -> object:
        speak(board, celsius, 0.5)
        return holds()

    until(so, what, seen=site.log)


def calm(site: Site, watching: Watching) -> None:
    assert watching.process.poll() is None, watching.log()
    assert "Traceback" not in watching.log()
    assert " raised (" not in watching.log(), watching.log()
    assert not standing(site.status()), watching.log()


def still_raises(site: Site, board: Board) -> None:
    """Beer that is truly too hot still raises its alarm."""
    for celsius in (20.5, 22.0, 23.5):  # at one blow it would be a glitch
        speak(board, celsius, 0.3)
    speak_until(board, 25.0, lambda: "temperature-high" in standing(site.status()), "the heat is told", site)


@pytest.mark.parametrize("by", [YEAR, -YEAR, HOURS, -HOURS], ids=["+1 y", "-1 y", "+3 h", "-3 h"])
def test_a_clock_that_is_set_raises_nothing_and_hides_nothing(tmp_path: Path, by: timedelta) -> None:
    with watched(tmp_path) as (site, watching, board, clock):
        clock.set(by)
        speak(board, 19.0, 4.0)
        calm(site, watching)
        watching.says("the machine's clock was set by")
        still_raises(site, board)
        assert watching.stop() == 0


def test_a_sawtooth_raises_nothing(tmp_path: Path) -> None:
    with watched(tmp_path) as (site, watching, board, clock):
        for turn in range(8):
            clock.set(timedelta() if turn % 2 else HOURS * (turn + 1))
            speak(board, 19.0, 0.7)
        calm(site, watching)
        clock.set(timedelta())
        still_raises(site, board)


def test_no_timer_of_a_beer_a_little_too_hot_is_run_out_by_it(tmp_path: Path) -> None:
    """Hot enough for a warning after three minutes; an hour's jump is no hour of heat."""
    with watched(tmp_path) as (site, watching, board, clock):
        speak(board, 20.5, 0.3)
        speak(board, 22.0, 4.0)
        clock.set(timedelta(hours=1))
        speak(board, 22.0, 5.0)
        clock.set(timedelta())
        speak(board, 22.0, 4.0)
        calm(site, watching)
