"""Beer in its package and the next beer in its fermenter, as a brewer has them: commands beside a running watcher."""

import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.support.running import Site, Watching, probe, serial_source, standing, until, vessel
from tests.support.terminal import Board, Terminal

AT_ONCE = "[rules]\noutside_warning_h = 0\noutside_clears_min = 0"
DAY = timedelta(days=1)


def said(site: Site, *words: str, status: int = 0) -> str:
    """A command that ends as it should; what it said, on one line."""
    done = site.run(*words)
    assert done.returncode == status, f"{words}: {done.stdout}{done.stderr}"
    return " ".join((done.stdout + done.stderr).split())


def ago(span: timedelta) -> str:
    return f"{datetime.now(UTC) - span:%Y-%m-%d %H:%M}"


def opened(site: Site, name: str, pitched: timedelta | None) -> str:
    """`pitched` so long ago; None: now."""
    wort = ("--og", "1.050", "--yeast", "clean-ale", "--volume", "19L")
    when = () if pitched is None else ("--pitched-at", ago(pitched))
    return said(site, "batch", "open", name, "--vessel", "left", *wort, *when, "--yes")


def packaged(site: Site, name: str, at: timedelta, *more: str) -> str:
    """Even against the verdict, where nothing says how warm it stands; three readings show that it holds."""
    for before in (6 * DAY, 3 * DAY, timedelta(hours=1)):
        reading = ("hydrometer", "1.010", "--degassed", "--at", ago(at + before))
        said(site, "measure", name, *reading, "--yes", "--even-so")
    choice = ("--package", "soda-pet", "--volumes", "2.4", "--warmest", "20C", *more)
    return said(site, "batch", "package", name, *choice, "--at", ago(at), "--yes", "--although-not-safe")


def speak(board: Board, beer_c: float, gravity_sg: float) -> None:
    """The fermenter's probes over the last hour, the newest reading now."""
    now = datetime.now(UTC)
    for minutes in range(50, -1, -5):
        at = (now - timedelta(minutes=minutes)).isoformat()
        board.say(json.dumps({"at": at, "t": beer_c, "g": gravity_sg}))


def lane(status: Mapping[str, Any]) -> Mapping[str, Any]:
    found: Mapping[str, Any] = status["fermenters"][0]
    return found


@contextmanager
def cellar(directory: Path) -> Iterator[tuple[Site, Board, Watching]]:
    """One fermenter with a beer probe and a float, watched."""
    site = Site(directory / "site")
    float_in_it = probe("left-float", "board", "g", 'quantity = "gravity"', "silent_after_s = 7200")
    source = serial_source("board", directory / "port", 'time_field = "at"', form="json")
    site.configure(AT_ONCE, vessel(), source, probe("left-beer", "board", "t"), float_in_it)
    with Board(directory / "port") as board, site.watched() as watching:
        watching.says("is connected")
        board.say("")
        yield site, board, watching


@pytest.mark.needs_tmux
def test_the_next_beer_is_pitched_while_the_last_one_conditions(tmp_path: Path) -> None:
    with cellar(tmp_path) as (site, board, watching):
        opened(site, "Old Ale", 20 * DAY)
        speak(board, 26.0, 1.010)
        site.until_status(lambda status: "temperature-high" in standing(status), "the old beer is hot")

        packaged(site, "Old Ale", 4 * DAY)
        status = site.until_status(lambda status: lane(status)["batch"] is None, "the fermenter is empty")
        assert standing(status) <= {"squeeze-the-bottle"}  # nothing of the fermenter concerns it any more
        (bottled,) = status["conditioning"]
        assert bottled["batch"]["name"] == "Old Ale"
        assert bottled["day"] == 4

        opened(site, "New Ale", None)
        status = site.until_status(lambda status: lane(status)["batch"], "the next beer is in it")
        assert "temperature-high" not in standing(status)  # what was heard so far was heard in the old beer
        assert "not heard since the pitch" in said(site, "status")
        assert lane(status)["batch"]["name"] == "New Ale"
        assert [one["batch"]["name"] for one in status["conditioning"]] == ["Old Ale"]

        assert watching.stop() == 0
        with site.watched() as again:
            again.says("is connected")
            speak(board, 26.0, 1.049)
            status = site.until_status(lambda status: "temperature-high" in standing(status), "the new beer is hot")
            assert [alarm["rule"] for alarm in lane(status)["alarms"]] == ["temperature-high"]
            assert [alarm["rule"] for alarm in status["conditioning"][0]["alarms"]] == ["squeeze-the-bottle"]

            told = said(site, "bottle", "Old Ale", status=1)
            assert "Old Ale was packaged" in told
            assert "not ready to bottle" not in told
            assert "New Ale" in said(site, "bottle", "left", status=1)
            assert "Old Ale" in said(site, "status")
            listed = said(site, "batch", "list")
            assert "Old Ale" in listed
            assert "New Ale" in listed
            shown = said(site, "batch", "show", "Old Ale")
            assert "day 4 in the bottle" in shown
            assert "hydrometer" not in shown.split("measured")[0]

            with Terminal(f"fermwatch-{os.getpid()}-bottled") as screen:
                screen.open(site.command("dashboard"), {"TERM": "tmux-256color"})
                until(lambda: "New Ale" in screen.screen(), "the new beer is on the screen", seen=screen.screen)
                until(lambda: "Old Ale" in screen.screen(), "so is the one in the bottle", seen=screen.screen)

            said(site, "batch", "end", "Old Ale", "--yes")
            status = site.until_status(lambda status: not status["conditioning"], "the last bottle is drunk")
            assert "temperature-high" in standing(status)  # the new beer's alarm is not the old one's to end
            assert again.stop() == 0


def test_packaging_taken_back_puts_the_beer_where_it_was_if_that_is_free(tmp_path: Path) -> None:
    with cellar(tmp_path) as (site, _, _):
        opened(site, "Old Ale", 20 * DAY)
        told = packaged(site, "Old Ale", timedelta(hours=3))
        identity = told.rsplit(" as ", 1)[1].rstrip(".")
        opened(site, "New Ale", timedelta(hours=1))
        refused = said(site, "note", "void", identity, "--yes", status=1)
        assert "New Ale" in refused
        assert "left" in refused
        said(site, "batch", "end", "New Ale", "--yes")
        said(site, "note", "void", identity, "--yes")
        status = site.status()
        assert lane(status)["batch"]["name"] == "Old Ale"
        assert status["conditioning"] == []


def test_a_probe_of_the_bottle_store_tells_where_it_conditions(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    in_store = probe("pantry", "board", "s", 'quantity = "store-temperature"').replace('vessel = "left"\n', "")
    source = serial_source("board", tmp_path / "port", 'time_field = "at"', form="json")
    site.configure(vessel(), source, probe("left-beer", "board", "t"), in_store)
    with Board(tmp_path / "port") as board, site.watched() as watching:
        watching.says("is connected")
        board.say("")
        opened(site, "Old Ale", 20 * DAY)
        packaged(site, "Old Ale", 4 * DAY)
        assert not site.status()["conditioning"][0]["temperature_measured"]
        now = datetime.now(UTC)
        for minutes in range(50, -1, -5):
            board.say(json.dumps({"at": (now - timedelta(minutes=minutes)).isoformat(), "s": 15.0}))
        status = site.until_status(lambda status: status["conditioning"][0]["temperature_measured"], "it is heard")
        assert status["conditioning"][0]["temperature_c"] == 15.0
        assert status["stores"][0]["probe"] == "pantry"
        assert status["stores"][0]["value_c"] == 15.0
        told = said(site, "status")
        assert "day 4 in the bottle, at 15.0 °C (" in told
        assert "At 15 °C it takes about 20 days instead of 14 at 20 °C" in told
        assert "Bottle store: 15.0 °C" in told
        assert watching.stop() == 0


def test_the_label_and_what_is_said_afterwards_name_one_day(tmp_path: Path) -> None:
    """The label went by 20 °C as told, and a minute later the dates went by the pantry's own probe."""
    site = Site(tmp_path / "site")
    in_store = probe("pantry", "board", "s", 'quantity = "store-temperature"').replace('vessel = "left"\n', "")
    source = serial_source("board", tmp_path / "port", 'time_field = "at"', form="json")
    site.configure(vessel(), source, probe("left-beer", "board", "t"), in_store)
    with Board(tmp_path / "port") as board, site.watched() as watching:
        watching.says("is connected")
        opened(site, "Old Ale", 20 * DAY)
        now = datetime.now(UTC)
        for minutes in range(50, -1, -5):
            board.say(json.dumps({"at": (now - timedelta(minutes=minutes)).isoformat(), "s": 15.0}))
        site.until_status(lambda status: status["stores"][0].get("value_c") == 15.0, "the store is heard")
        label = packaged(site, "Old Ale", timedelta(0), "--package", "returnable-glass")
        first = datetime.strptime(label.split("open from ")[1][:10], "%Y-%m-%d")  # noqa: DTZ007 - a day of the site
        assert "Let it condition at 15 °C for about 20 days" in label
        assert f"Open the first on {first.day} {first:%b}" in said(site, "status")
        assert watching.stop() == 0


def test_days_that_the_configuration_sets_are_shown_as_the_reminders_go(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    site.configure("[rules]\nconditioning_days = 21\nbest_within_days = 60", vessel())
    with site.watched():
        opened(site, "Old Ale", 32 * DAY)
        label = packaged(site, "Old Ale", 16 * DAY)
        assert "Open the first" in said(site, "status")
        assert ": 21 days." in said(site, "status")
        first = datetime.now(UTC) + 5 * DAY
        assert f"open from {first:%Y-%m-%d}" in label
        assert "ready-to-drink" not in standing(site.status())
    site.configure("[rules]\nconditioning_days = 15", vessel())
    with site.watched():
        status = site.until_status(
            lambda status: "ready-to-drink" in standing(status), "it is ready by the new setting"
        )
        assert "Ready since yesterday, after 15 days." in said(site, "status")
        rules = [alarm["rule"] for alarm in status["conditioning"][0]["alarms"]]
        assert "ready-to-drink" in rules
