"""A board with two probes that is unplugged, or that falls silent: one line, one key, everywhere."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from tests.support.running import Site, Watching, probe, serial_source, standing, until, vessel
from tests.support.terminal import Board

SOON = ("every_s = 1", "silent_after_s = 2")


def two_probes(directory: Path) -> Site:
    site = Site(directory / "site")
    site.configure(
        vessel("left"),
        vessel("right"),
        serial_source("board", directory / "port"),
        probe("left-beer", "board", "a", *SOON),
        probe("right-beer", "board", "b", *SOON, vessel="right"),
    )
    return site


def heard(site: Site, board: Board, watching: Watching) -> None:
    """Both probes are heard, in fermenters that hold a beer."""
    for name in ("left", "right"):
        site.open_batch(name)
        site.see_life(name)

    def both() -> bool:
        board.say("a=19.0", "b=19.0")
        return bool(site.readings("left-beer") and site.readings("right-beer"))

    until(both, "both are heard", seen=watching.log)


def calling(status: Mapping[str, Any]) -> list[str]:
    return [f"{alarm['rule']} {alarm['subject']}" for alarm in status["alarms"] if alarm["needs_attention"]]


def one_line_one_key(site: Site) -> None:
    """What a person sees of it, and the one command that answers."""
    shown = site.run("alarms").stdout
    assert shown.count("source-lost board") == 1
    assert "probe-silent" not in shown
    told = site.run("status").stdout
    assert "probe-silent" not in told
    assert "has said nothing" not in told
    done = site.run("ack", "source-lost")
    assert done.returncode == 0, done.stderr
    assert calling(site.status()) == []


@pytest.mark.timeout(300)  # a lost source is told of after a minute
def test_an_unplugged_board_is_one_alarm_and_stays_one_when_its_probes_grow_silent(tmp_path: Path) -> None:
    site = two_probes(tmp_path)
    with Board(tmp_path / "port") as board, site.watched() as watching:
        watching.says("source board is connected")
        heard(site, board, watching)
        board.unplug()
        # The source's alarm waits for a minute; the probes are silent after two seconds.
        status = site.until_status(lambda said: "source-lost" in standing(said), "the source is told of", guard_s=120)
        assert calling(status) == ["source-lost source:board"]
        one_line_one_key(site)
        board.plug_in()

        def spoken(said: Mapping[str, Any]) -> bool:
            board.say("a=19.0", "b=19.0")
            return not {"source-lost", "probe-silent"} & standing(said)

        assert calling(site.until_status(spoken, "it is back", guard_s=120)) == []


@pytest.mark.timeout(300)
def test_a_board_that_falls_silent_on_an_open_port_is_one_alarm(tmp_path: Path) -> None:
    site = two_probes(tmp_path)
    with Board(tmp_path / "port") as board, site.watched() as watching:
        watching.says("source board is connected")
        heard(site, board, watching)
        status = site.until_status(lambda said: "source-lost" in standing(said), "the board is told of", guard_s=120)
        assert calling(status) == ["source-lost source:board"]
        (told,) = [alarm["statement"] for alarm in status["alarms"] if alarm["rule"] == "source-lost"]
        assert told == "board is connected, and none of its probes speaks: left-beer and right-beer are silent"
        one_line_one_key(site)
