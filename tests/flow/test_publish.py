"""`fermwatch publish` beside a real broker: what stands there, and what is gone with its fermenter or its watcher."""

import json
import signal
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from tests.support.broker import Broker
from tests.support.running import GUARD_S, Site, probe, serial_source, until, vessel
from tests.support.terminal import Board

pytestmark = pytest.mark.needs_broker
PUBLISH = '[publish]\nhost = "127.0.0.1"\nport = {port}\ndiscovery = "found"\nevery_s = 1'
AVAILABILITY, LEFT = "fermwatch/home/availability", "fermwatch/home/fermenter/left"


@contextmanager
def publishing(site: Site) -> Iterator["subprocess.Popen[bytes]"]:
    process = subprocess.Popen(site.command("publish"), stderr=subprocess.PIPE, stdin=subprocess.DEVNULL)
    try:
        yield process
    finally:
        process.kill()
        process.communicate(timeout=GUARD_S)


@contextmanager
def looked_at(broker: Broker) -> Iterator[dict[str, str]]:
    """What stands on the broker, as a stranger's client sees it."""
    stands: dict[str, str] = {}
    client = paho.Client(CallbackAPIVersion.VERSION2)

    def heard(_client: object, _data: object, message: paho.MQTTMessage) -> None:
        stands.pop(message.topic, None)
        if message.payload:
            stands[message.topic] = message.payload.decode()

    client.on_message = heard

    def connected(*_: object) -> None:
        client.subscribe("#", qos=1)

    client.on_connect = connected
    client.connect("127.0.0.1", broker.port)
    client.loop_start()
    try:
        yield stands
    finally:
        client.disconnect()
        client.loop_stop()


def set_up(site: Site, port: Path, broker: Broker, *vessels: str) -> None:
    site.configure(
        *(vessel(one) for one in vessels),
        serial_source("board", port),
        probe("left-beer", "board", "t"),
        PUBLISH.format(port=broker.port),
    )


def test_what_stands_there_follows_the_site(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    with Broker(tmp_path / "broker") as broker, Board(port) as board, looked_at(broker) as stands:
        set_up(site, port, broker, "left", "right")
        with site.watched() as watching, publishing(site) as process:
            watching.says("is connected")

            def heard() -> bool:
                board.say("t=19.4")
                return '"beer_temperature_c": 19.4' in stands.get(LEFT, "")

            broker.publish("fermwatch/home/alive", "of somebody else", retain=True)
            until(heard, "what is heard stands there")
            until(lambda: stands.get(AVAILABILITY) == "online", "somebody watches")
            sensor = json.loads(stands["found/sensor/fermwatch-home/left-beer_temperature_c/config"])
            assert sensor["state_topic"] == LEFT
            assert "fermwatch/home/fermenter/right" in stands
            broker.restart()
            until(lambda: stands.get(AVAILABILITY) == "online", "it comes back with its broker")
            process.send_signal(signal.SIGTERM)
            assert process.wait(GUARD_S) == 0
            until(lambda: stands.get(AVAILABILITY) == "offline", "who leaves says so")
        set_up(site, port, broker, "left")
        with site.watched(), publishing(site) as process:
            until(lambda: stands.get(AVAILABILITY) == "online", "somebody watches")
            until(lambda: not [one for one in stands if "right" in one], "what is gone is taken away")
            assert LEFT in stands
            assert stands["fermwatch/home/alive"] == "of somebody else", "what is not ours stays"
            process.kill()
            until(lambda: stands.get(AVAILABILITY) == "offline", "the last will")


def test_where_nobody_watches_that_is_told(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    with Broker(tmp_path / "broker") as broker, looked_at(broker) as stands:
        set_up(site, port, broker, "left")
        with site.watched() as watching, publishing(site):
            until(lambda: stands.get(AVAILABILITY) == "online", "somebody watches")
            assert watching.stop() == 0
            until(lambda: stands.get(AVAILABILITY) == "offline", "nobody watches")


def test_two_that_publish_one_site_are_told_what_is_wrong(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    with Broker(tmp_path / "broker") as broker:
        set_up(site, tmp_path / "port", broker, "left")
        with site.watched(), publishing(site) as one, publishing(site):
            assert one.stderr is not None
            told = ""
            while "Does a second `fermwatch publish` of this site run?" not in told:
                told = one.stderr.readline().decode()
                assert told, "it ended"


def test_a_broker_that_lets_nobody_in_is_told_once_with_the_remedy(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    with Broker(tmp_path / "broker", users={"cellar": "right"}) as broker:
        set_up(site, tmp_path / "port", broker, "left")
        with site.watched(), publishing(site) as process:
            assert process.stderr is not None
            assert "lets nobody in without a login. Set username and password_file." in (
                process.stderr.readline().decode()
            )


def test_what_is_to_stand_there_can_be_looked_at_without_a_broker(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    site.configure(vessel(), PUBLISH.format(port=1))
    with site.watched():
        said = site.run("publish", "--once")
    assert said.returncode == 0, said.stderr
    assert f"{AVAILABILITY} online" in said.stdout
    site.configure(vessel())
    assert "Add [publish]" in site.run("publish").stderr


def test_a_store_that_was_never_seen_takes_nothing_away(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    with Broker(tmp_path / "broker") as broker, looked_at(broker) as stands:
        set_up(site, tmp_path / "port", broker, "left")
        broker.publish(LEFT, "of yesterday", retain=True)
        until(lambda: LEFT in stands, "it lies there")
        with publishing(site) as process:
            assert process.stderr is not None
            until(lambda: b"published at" in process.stderr.readline(), "it is connected")  # type: ignore[union-attr]
            until(lambda: stands.get(AVAILABILITY) == "offline", "nobody watches")
            assert stands[LEFT] == "of yesterday"
            with site.watched():
                until(lambda: stands.get(AVAILABILITY) == "online", "somebody watches")
                assert stands[LEFT] != "of yesterday"
