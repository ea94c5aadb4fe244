"""Values that are not of now: stored while the clock was ahead, or handed out by a broker that remembers them."""

import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.model.reading import Flag
from tests.support.broker import Broker
from tests.support.false_time import FalseTime
from tests.support.running import Site, mqtt_source, probe, probe_of, serial_source, until, value_of, vessel
from tests.support.stores import open_reader
from tests.support.terminal import Board

WEEKS = timedelta(days=30)


@pytest.mark.needs_faketime
def test_a_reading_of_a_time_to_come_is_never_live_and_gives_way_to_what_comes_in(tmp_path: Path) -> None:
    clock = FalseTime(tmp_path / "clock")
    site, port = Site(tmp_path / "site", environment=clock.environment), tmp_path / "port"
    site.configure(vessel(), serial_source("board", port), probe("beer", "board", "t"))
    clock.set(WEEKS)
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        board.say("", "t=23.5")
        site.until_status(lambda said: value_of(said, "beer") == 23.5, "it is stored")
        assert watching.stop() == 0
    clock.set(timedelta())
    shown = probe_of(site.status(), "beer")
    assert shown["freshness"] != "live"
    assert "its time lies ahead of now" in shown["flagged"]
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        assert value_of(site.status(), "beer") is None, "nothing of now is known"
        board.say("", "t=19.0")
        site.until_status(lambda said: value_of(said, "beer") == 19.0, "what comes in is shown")
        # The first sign of life may come a moment after the first reading: until then nobody is seen to watch.
        site.until_status(lambda said: probe_of(said, "beer")["freshness"] == "live", "it is live")
        assert watching.stop() == 0
    with open_reader(site.store, "home") as reader:
        rows = reader.readings(1, datetime.now(UTC) - WEEKS, datetime.now(UTC) + 2 * WEEKS)
    assert [(row.value, row.flags) for row in rows] == [(19.0, Flag.GOOD), (23.5, Flag.AHEAD)]


@pytest.mark.needs_faketime
def test_a_clock_that_was_behind_at_the_start_takes_nothing_from_the_beer(tmp_path: Path) -> None:
    """As on a board without a clock of its own: it starts with an hour ago, and is set once there is a network."""
    clock = FalseTime(tmp_path / "clock")
    site, port = Site(tmp_path / "site", environment=clock.environment), tmp_path / "port"
    site.configure(vessel(), serial_source("board", port), probe("beer", "board", "t"))
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        board.say("", "t=19.0")
        site.until_status(lambda said: value_of(said, "beer") == 19.0, "it is stored")
        assert watching.stop() == 0
    clock.set(timedelta(hours=-1))
    with site.watched() as watching:
        assert watching.stop() == 0
    clock.set(timedelta())
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        board.say("", "t=19.2")
        site.until_status(lambda said: value_of(said, "beer") == 19.2, "it goes on")
        assert watching.stop() == 0
    assert [row.value for row in site.readings("beer")] == [19.0, 19.2]


@pytest.mark.needs_broker
def test_a_retained_message_without_a_time_has_no_age_and_displaces_nothing(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    with Broker(tmp_path / "broker") as broker:
        broker.publish("cellar/beer", "17.5", retain=True)
        site.configure(vessel(), mqtt_source("broker", broker.port, "cellar/{what}"), probe("beer", "broker", "beer"))
        with site.watched() as watching:
            watching.says("is connected")
            said = site.until_status(lambda said: value_of(said, "beer") == 17.5, "the last known is shown")
            shown = probe_of(said, "beer")
            assert (shown["freshness"], shown["at"], shown["age_s"]) == ("last known", None, None)
            until(lambda: "age unknown" in " ".join(site.run("status").stdout.split()), "so it is said", seen=site.log)
            broker.publish("cellar/beer", "19.0")
            site.until_status(lambda said: value_of(said, "beer") == 19.0, "a reading takes its place")
            assert watching.stop() == 0
        time.sleep(0.1)
        with site.watched() as watching:  # the broker hands 17.5 out again
            watching.says("is connected")
            time.sleep(1.5)
            kept = site.status()
            assert (value_of(kept, "beer"), probe_of(kept, "beer")["freshness"]) == (19.0, "live")
            assert watching.stop() == 0
    assert [row.value for row in site.readings("beer")] == [19.0]
