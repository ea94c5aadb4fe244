"""After a power cut one sentence says how long nobody watched, what the beers did, and what is to be done."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.clock import to_ms
from fermwatch.contracts.store import WatcherStatus
from fermwatch.inbox.receiving import open_inbox
from fermwatch.ingest.pipeline import Intake
from fermwatch.model.reading import Reading
from fermwatch.watching.logbook import Logbook
from tests.support.command_line import PROBES, VESSELS, CommandLine, command_line
from tests.support.samples import beer_probe
from tests.support.stores import open_writer

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
OFFSET_C = 0.5  # of the probe


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setenv("COLUMNS", "200")
    desk = command_line(tmp_path / "store", NOW - timedelta(days=2), capsys)
    desk.done(*("batch", "open", "Pale", "--vessel", "left", "--yeast", "clean-ale", "--og", "1.050", "--yes"))
    return desk


def cut(desk: CommandLine, *, stopped: bool = False, hours: float = 6.0) -> None:
    """The power went so long ago, after the beer was read at 17.8 °C."""
    at = NOW - timedelta(hours=hours)
    desk.hear("left-beer", {at - timedelta(minutes=minute): 17.8 - OFFSET_C for minute in range(1, 200)})
    cut_now(desk, stopped=stopped, hours=hours)


def cut_now(desk: CommandLine, *, stopped: bool = False, hours: float = 6.0) -> None:
    at = NOW - timedelta(hours=hours)
    with open_writer(desk.directory, "home", at, ballast_bytes=4096) as writer:
        writer.beat(WatcherStatus("0.1", 42, at - timedelta(days=2), at, at, stopped=stopped))
    desk.clock.at = NOW


def back(desk: CommandLine, beer_c: float | None, by: str = "left-beer") -> str:
    """What is said of alarms once the watcher is back and has heard the beer, or waited for it in vain."""
    later = NOW + timedelta(minutes=1 if beer_c is not None else 16)
    with open_writer(desk.directory, "home", NOW, ballast_bytes=4096) as writer:
        logbook = Logbook(writer, open_inbox(desk.directory, "home"))
        logbook.begin(NOW)
        logbook.decide(NOW)
        if beer_c is not None:
            series = next(one.series for one in writer.series() if one.probe.slug == by)
            reading = Reading(series, to_ms(NOW + timedelta(seconds=20)), beer_c - OFFSET_C)
            logbook.take(Intake((reading,), (), frozenset()))
        logbook.decide(later)
        writer.beat(WatcherStatus("0.1", 42, NOW, later, later))
    desk.clock.at = later
    return " ".join(desk.type("alarms").text.split())


def test_it_says_how_long_what_the_beer_did_and_that_there_is_nothing_to_do(desk: CommandLine) -> None:
    cut(desk)
    said = back(desk, 20.3)
    assert "for 6 h: Left bucket 17.8 °C before, 20.3 °C after, in its range. Nothing to do." in said


def test_beer_that_is_outside_now_is_no_case_of_nothing_to_do(desk: CommandLine) -> None:
    cut(desk)
    said = back(desk, 27.3)
    assert "17.8 °C before, 27.3 °C after, outside its range" in said
    assert "Nothing to do" not in said


@pytest.mark.parametrize(("stopped", "hours"), [(True, 6.0), (False, 0.2)])
def test_a_stop_or_a_blink_is_not_told(desk: CommandLine, stopped: bool, hours: float) -> None:
    cut(desk, stopped=stopped, hours=hours)
    assert "unwatched" not in back(desk, 20.3)


def test_a_beer_that_is_not_heard_again_is_told_as_that(desk: CommandLine) -> None:
    cut(desk)
    assert "Left bucket 17.8 °C before, not read since." in back(desk, None)


def test_a_probe_that_was_silent_long_before_says_nothing_of_then(desk: CommandLine) -> None:
    then = NOW - timedelta(days=2)
    desk.hear("left-beer", {then + timedelta(minutes=minute): 4.0 for minute in range(100)})
    cut_now(desk)
    assert "the watcher was killed, for 6 h." in back(desk, 20.3)


def test_a_probe_that_was_moved_meanwhile_tells_of_the_beer_that_it_was_in(desk: CommandLine) -> None:
    """Another one takes its place before the watcher is back."""
    cut(desk)
    (beer,) = (one for one in PROBES if one.slug == "left-beer")
    moved = (replace(beer, vessel="right"), beer_probe("new-beer"))
    with open_writer(desk.directory, "home", NOW, ballast_bytes=4096) as writer:
        writer.declare("Europe/Vienna", VESSELS, moved, NOW)
    assert "Left bucket 17.8 °C before, 20.3 °C after" in back(desk, 20.3 + OFFSET_C, by="new-beer")


def test_it_is_an_alarm_that_is_over_and_that_nobody_has_seen(desk: CommandLine) -> None:
    cut(desk)
    assert back(desk, 20.3).count("unwatched") == 1
    with desk.reader() as reader:
        (first,) = (one for one in reader.alarms() if one.rule == "unwatched")
    assert (first.occurrence, first.unseen, first.raised_at) == (1, True, NOW - timedelta(hours=6))
