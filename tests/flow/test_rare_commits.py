"""`commit_every_s`, for a card that wears out: while nothing happens nothing is written, and it is known to watch."""

import time
from pathlib import Path

from fermwatch.contracts.store import Reader
from fermwatch.watching.watcher import DECIDE_EVERY_S
from tests.support.running import Site, probe, probe_of, serial_source, source_of, standing, until, vessel
from tests.support.stores import open_reader
from tests.support.terminal import Board

QUIET_S = 12.0  # two signs of life of a watcher that spares nothing


def _is_left_alone(reader: Reader) -> bool:
    """For longer than it takes to decide anything."""
    reader.changed()
    time.sleep(DECIDE_EVERY_S + 1.0)
    return not reader.changed()


def test_between_two_commits_nothing_is_written_and_the_watcher_is_known_to_watch(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    site.configure("commit_every_s = 300", vessel(), serial_source("board", port), probe("beer", "board", "t"))
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        site.until_status(lambda said: source_of(said, "board")["state"] == "connected", "so it is noted")
        with open_reader(site.store, "home") as reader:
            until(lambda: _is_left_alone(reader), "what the start leaves to note is noted", seen=site.log)
            said_so_far, end_s = 0, time.monotonic() + QUIET_S
            while time.monotonic() < end_s:
                board.say("", "t=19.0")
                said_so_far += 1
                time.sleep(1.0)
            assert not reader.changed(), "the card was written to"
            found = reader.watcher()
        assert found is not None
        assert found.beat_every_s == 300.0
        said = site.status()
        assert said["watched"]
        assert not standing(said)
        board.unplug()
        lost = site.until_status(lambda said: source_of(said, "board")["state"] == "unavailable", "a loss is told")
        assert probe_of(lost, "beer")["freshness"] != "live"
        assert watching.stop() == 0
    assert len(site.readings("beer")) >= said_so_far - 1
