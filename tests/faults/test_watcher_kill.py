"""The watcher killed again and again while a broker sends: every number is stored exactly once."""

import random
import subprocess
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Self

import pytest

from tests.support.broker import Broker
from tests.support.running import Site, mqtt_source, probe, until, vessel

MESSAGES = 3_000
KILLS = 20

pytestmark = [pytest.mark.needs_broker, pytest.mark.timeout(240)]


class Publisher:
    """One mosquitto_pub, which publishes a message for each line that it is given."""

    def __init__(self, broker: Broker, topic: str) -> None:
        command = ["mosquitto_pub", "-h", "127.0.0.1", "-p", str(broker.port), "-t", topic, "-q", "1", "-l"]
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE)

    def publish(self, lines: Sequence[str]) -> None:
        wire = self._process.stdin
        assert wire is not None
        wire.write("".join(f"{line}\n" for line in lines).encode())
        wire.flush()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.communicate(timeout=30)


def survive_kills(site: Site, broker: Broker, lines: Sequence[str]) -> None:
    """Kill the watcher at random moments while messages come in, and start it again; wait until all is stored."""
    chance = random.Random(20)
    share = len(lines) // KILLS
    with site.watched() as first:
        first.says("is connected")  # the broker keeps messages for us from the first connection on
        first.kill()
    with Publisher(broker, "cellar/left/beer") as publisher:
        for turn in range(KILLS):
            mine = lines[turn * share : (turn + 1) * share]
            publisher.publish(mine[: share // 3])
            with site.watched() as watching:
                watching.says("is connected")
                publisher.publish(mine[share // 3 :])
                time.sleep(chance.uniform(0.0, 0.15))
                watching.kill()
        assert share * KILLS == len(lines)
    with site.watched() as watching:
        until(lambda: len(site.readings("left-beer")) >= len(lines), "everything is stored", seen=site.log)
        assert watching.stop() == 0


def test_of_3000_numbered_messages_and_20_kills_every_number_is_stored_once(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    with Broker(tmp_path / "broker", max_queued_messages=2 * MESSAGES) as broker:
        options = ('payload = "json"', 'sequence_pointer = "/n"')
        site.configure(
            vessel(),
            mqtt_source("broker", broker.port, "cellar/{fermenter}/{what}", *options),
            probe("left-beer", "broker", "left/beer#/t"),
        )
        survive_kills(site, broker, [f'{{"n": {n}, "t": {18 + n / 1000}}}' for n in range(MESSAGES)])
    assert Counter(one.sequence for one in site.readings("left-beer")) == Counter(range(MESSAGES))


def test_so_is_every_bare_number_that_has_neither_sequence_nor_time(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    with Broker(tmp_path / "broker", max_queued_messages=2 * MESSAGES) as broker:
        site.configure(
            vessel(),
            mqtt_source("broker", broker.port, "cellar/{fermenter}/{what}"),
            probe("left-beer", "broker", "left/beer"),
        )
        survive_kills(site, broker, [f"{18 + n / 1000:.3f}" for n in range(MESSAGES)])
    assert Counter(f"{one.value:.3f}" for one in site.readings("left-beer")) == Counter(
        f"{18 + n / 1000:.3f}" for n in range(MESSAGES)
    )
