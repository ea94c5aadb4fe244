"""The whole path, each part as a user has it: a probe's words, the watcher, the store, `status` and the dashboard."""

import json
import os
import signal
import subprocess
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.support.broker import Broker
from tests.support.running import (
    Site,
    mqtt_source,
    probe,
    serial_source,
    source_of,
    standing,
    until,
    value_of,
    vessel,
)
from tests.support.terminal import Board, Terminal

AT_ONCE = "[rules]\noutside_warning_h = 0\noutside_clears_min = 0"


def last_hour(temperature_c: float, count: int) -> list[tuple[datetime, float]]:
    """Readings spread over the last hour but its first minutes, the newest one now."""
    now = datetime.now(UTC)
    return [(now - timedelta(minutes=50) * (number / count), temperature_c) for number in reversed(range(count))]


def falling_to(temperature_c: float) -> list[tuple[datetime, float]]:
    """Now, step by step: from one reading to the next beer does not jump."""
    now = datetime.now(UTC)
    return [(now + timedelta(milliseconds=step), temperature_c + 1.5 * (3 - step)) for step in range(4)]


def as_json(readings: Sequence[tuple[datetime, float]]) -> list[str]:
    return [json.dumps({"at": at.isoformat(), "t": value}) for at, value in readings]


def raised_and_cleared(site: Site, publish: Callable[[list[str]], None], screen: Terminal) -> None:
    """Hot for an hour, and in range again: the alarm comes and goes, in the status and on the dashboard."""
    publish(as_json(last_hour(24.5, 20)))
    hot = site.until_status(lambda said: "temperature-high" in standing(said), "the alarm is raised")
    assert value_of(hot, "left-beer") == 24.5
    alarm = next(one for one in hot["alarms"] if one["rule"] == "temperature-high")
    assert "24.5 °C" in alarm["statement"]
    until(lambda: "24.5" in screen.screen(), "the reading is on the dashboard", seen=screen.screen)
    until(lambda: "3.5" in screen.screen() and "above" in screen.screen(), "so is the alarm", seen=screen.screen)
    publish(as_json([*falling_to(19.3), *last_hour(19.3, 60)]))
    cool = site.until_status(lambda said: "temperature-high" not in standing(said), "the alarm is cleared")
    assert value_of(cool, "left-beer") == 19.3
    assert next(one for one in cool["alarms"] if one["rule"] == "temperature-high")["cleared_at"]
    until(lambda: "19.3" in screen.screen(), "the dashboard shows it", seen=screen.screen)


@pytest.mark.needs_broker
@pytest.mark.needs_tmux
def test_what_mosquitto_pub_says_is_on_the_dashboard_and_raises_and_clears_the_alarm(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    with Broker(tmp_path / "broker") as broker, Terminal(f"fermwatch-{os.getpid()}-mqtt") as screen:
        options = ('payload = "json"', 'time_pointer = "/at"')
        site.configure(
            AT_ONCE,
            vessel(),
            mqtt_source("broker", broker.port, "cellar/{fermenter}/{what}", *options),
            probe("left-beer", "broker", "left/beer#/t"),
        )
        with site.watched() as watching:
            watching.says("is connected")
            site.open_batch("left")
            screen.open(site.command("dashboard"), {"TERM": "tmux-256color"})
            raised_and_cleared(site, lambda lines: broker.publish_lines("cellar/left/beer", lines), screen)
            assert watching.stop() == 0


@pytest.mark.needs_socat
@pytest.mark.needs_tmux
def test_what_socat_writes_to_a_port_is_on_the_dashboard_and_raises_and_clears_the_alarm(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    port = tmp_path / "port"
    site.configure(
        AT_ONCE,
        vessel(),
        serial_source("board", port, 'time_field = "at"', form="json"),
        probe("left-beer", "board", "t"),
    )
    socat = subprocess.Popen(["socat", "-u", "-", f"PTY,link={port},raw,echo=0"], stdin=subprocess.PIPE)
    assert socat.stdin is not None
    wire = socat.stdin

    def write(lines: list[str]) -> None:
        wire.write(("\n".join(lines) + "\n").encode())
        wire.flush()

    try:
        until(port.exists, "socat has made the port")
        with site.watched() as watching, Terminal(f"fermwatch-{os.getpid()}-serial") as screen:
            watching.says("is connected")
            site.open_batch("left")
            screen.open(site.command("dashboard"), {"TERM": "tmux-256color"})
            write(["what came before the first line end is never a reading"])
            raised_and_cleared(site, write, screen)
            assert watching.stop() == 0
    finally:
        wire.close()
        socat.wait(20)


@pytest.mark.needs_tmux
def test_a_dashboard_killed_with_its_terminal_disturbs_nothing_and_the_next_one_shows_no_gap(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    options = ('sequence_field = "n"',)
    site.configure(vessel(), serial_source("board", tmp_path / "port", *options), probe("left-beer", "board", "t"))
    said = 0
    with Board(tmp_path / "port") as board, site.watched() as watching:
        watching.says("is connected")

        def speak_on(count: int) -> None:
            nonlocal said
            for _ in range(count):
                board.say(f"n={said} t={18 + said / 100:.2f}")
                said += 1
                time.sleep(0.01)

        board.say("")  # ends the line that nobody heard the beginning of
        for round_ in range(3):
            with Terminal(f"fermwatch-{os.getpid()}-kill{round_}") as screen:
                screen.open(site.command("dashboard"), {"TERM": "tmux-256color"})
                until(lambda: "Left" in screen.screen(), "the dashboard is drawn", seen=screen.screen)
                speak_on(10)
                dashboard = screen.pane_process()
                speak_on(10)
            until(lambda: not Path(f"/proc/{dashboard}").exists(), "the dashboard is gone")  # noqa: B023
            speak_on(10)
        until(lambda: len(site.readings("left-beer")) >= said, "everything is stored", seen=site.log)
        assert [one.sequence for one in site.readings("left-beer")] == list(range(said))
        with Terminal(f"fermwatch-{os.getpid()}-next") as screen:
            screen.open(site.command("dashboard"), {"TERM": "tmux-256color"})
            newest = f"{18 + (said - 1) / 100:.1f}"
            until(lambda: newest in screen.screen(), "the next dashboard shows the newest", seen=screen.screen)
        assert watching.process.poll() is None
        assert source_of(site.status(), "board")["state"] == "connected"


def test_a_stop_is_clean_and_is_noted(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    site.configure(vessel(), serial_source("board", tmp_path / "port"), probe("left-beer", "board", "t"))
    with Board(tmp_path / "port"), site.watched() as watching:
        watching.says("is connected")
        site.until_status(lambda said: said["watched"], "it is watched")
        assert watching.stop() == 0
    status = site.status()
    assert status["watcher"]["stopped"]
    assert not status["watched"]
    assert "Traceback" not in site.log()


def test_control_c_stops_it_as_cleanly(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    site.configure(vessel())
    with site.watched() as watching:
        watching.process.send_signal(signal.SIGINT)
        assert watching.process.wait(30) == 0
    assert site.status()["watcher"]["stopped"]


def test_a_second_watcher_of_the_site_is_refused_with_the_first_one_named(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    site.configure(vessel())
    with site.watched() as watching:
        second = site.run("watch")
        assert second.returncode == 75
        assert f"already watched by process {watching.process.pid}" in second.stderr
        assert "Traceback" not in second.stderr
        assert watching.stop() == 0
    with site.watched() as third:
        assert third.stop() == 0


def test_a_stop_stores_what_was_gathered_for_a_late_commit(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    site.configure(
        "commit_every_s = 300",
        vessel(),
        serial_source("board", tmp_path / "port"),
        probe("left-beer", "board", "t"),
    )
    with Board(tmp_path / "port") as board, site.watched() as watching:
        watching.says("is connected")
        board.say("", "t=18.5", "x=1")
        watching.says("a channel that no probe uses: x")
        assert watching.stop() == 0
    assert [one.value for one in site.readings("left-beer")] == [18.5]
