"""Two sources that name one wire share it: a watcher over a real pseudo-terminal and a real broker."""

import asyncio
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.conformance.wires import Board
from tests.support.running import Site, probe, serial_source, source_of, value_of, vessel


@pytest.fixture
def site(tmp_path: Path) -> Site:
    return Site(tmp_path / "site")


@pytest.fixture
def board(tmp_path: Path) -> Iterator[Board]:
    made = Board(tmp_path / "board")
    made.plug_in()
    yield made
    made.unplug()


def say(board: Board, text: str) -> None:
    asyncio.run(board.write(text.encode()))


def test_two_sources_of_one_port_are_both_heard_and_both_come_back(site: Site, board: Board) -> None:
    """A board that prints temperatures in one format and a hydrometer's number in another."""
    site.configure(
        vessel(),
        serial_source("probes", board.link),
        serial_source("float", board.link, 'sequence_field = "n"', form="json"),
        probe("left-beer", "probes", "t"),
        probe("left-air", "float", "air", 'quantity = "air-temperature"'),
    )
    with site.watched() as watching:
        watching.says("source probes is connected")
        watching.says("source float is connected")
        say(board, '\nt=19.5\n{"air": 15.25, "n": 1}\n')
        site.until_status(
            lambda said: (value_of(said, "left-beer"), value_of(said, "left-air")) == (19.5, 15.25), "both are heard"
        )
        board.unplug()
        watching.says("source probes: There is no port")
        watching.says("source float: There is no port")
        board.plug_in()
        site.until_status(
            lambda said: {source_of(said, name)["state"] for name in ("probes", "float")} == {"connected"},
            "both are back",
        )
        say(board, '\nt=20.5\n{"air": 16.25, "n": 2}\n')
        site.until_status(
            lambda said: (value_of(said, "left-beer"), value_of(said, "left-air")) == (20.5, 16.25), "both again"
        )
        assert "in use" not in watching.log()
        assert watching.stop() == 0


def test_two_sources_that_want_one_port_otherwise_are_told_by_check(site: Site, board: Board) -> None:
    site.configure(serial_source("one", board.link), serial_source("two", board.link, "baud = 9600"))
    done = site.run("check")
    assert done.returncode == 78
    assert f'{board.link} is opened once for the sources "one" and "two", which differ in baud.' in done.stderr
    assert f"{site.config}:9: " in done.stderr
