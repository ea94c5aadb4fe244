"""Ports that go away in the middle of a line, again and again: no truncated number, no descriptor left open."""

import random
import threading
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests.support.running import Site, Watching, probe, serial_source, until, vessel
from tests.support.terminal import Board

BOARDS = 25  # at the same time, since a port that was lost is opened again after a pause
ROUNDS = 2


@dataclass
class Wiggled:
    """A board whose cable is pulled in the middle of a line, and put back."""

    number: int
    site: Site
    port: Path
    watching: Watching
    chance: random.Random
    written: list[float] = field(default_factory=list)

    @property
    def name(self) -> str:
        return f"board{self.number}"

    def wiggle(self) -> None:
        for turn in range(ROUNDS):
            with Board(self.port) as board:
                until(lambda: self.connected() > turn, f"{self.name} is opened", seen=self.watching.log)  # noqa: B023
                value = 19 + self.number / 100 + turn / 1000 + 0.0001
                line = f"t={value:.4f}\n"
                board.say("", line.strip())
                self.written.append(value)
                board.write(line[: self.chance.randrange(1, len(line))].encode())
                until(lambda: len(self.stored()) > turn, "the whole line is stored", seen=self.watching.log)  # noqa: B023

    def connected(self) -> int:
        return self.watching.log().count(f"source {self.name} is connected")

    def stored(self) -> list[float]:
        return [reading.value for reading in self.site.readings(f"probe-{self.name}")]


def test_ports_closed_in_mid_line_50_times_store_no_truncated_number_and_leak_no_descriptor(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    names = [f"board{number}" for number in range(BOARDS)]
    site.configure(
        vessel(),
        *(serial_source(name, tmp_path / name) for name in names),
        *(probe(f"probe-{name}", name, "t") for name in names),
    )
    with site.watched() as watching:
        for name in names:
            watching.says(f"WARNING source {name}: ")  # there is no port yet
        before = watching.descriptors()
        wiggled = [
            Wiggled(number, site, tmp_path / name, watching, random.Random(number)) for number, name in enumerate(names)
        ]
        threads = [threading.Thread(target=one.wiggle) for one in wiggled]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        until(lambda: watching.descriptors() <= before, "every port is closed", seen=lambda: str(before))
        assert watching.stop() == 0
    for one in wiggled:
        assert one.stored() == pytest.approx(one.written, abs=1e-9)
        assert one.connected() == ROUNDS
