"""Two sources that name one wire share it: a watcher over a real pseudo-terminal and a real broker."""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Iterator
from pathlib import Path

import pytest

from fermwatch.clock import SystemClock
from fermwatch.contracts.driver import Delivery
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ConfigError
from fermwatch_drivers.mqtt.driver import DRIVER as MQTT
from fermwatch_drivers.mqtt.driver import MqttDriver
from fermwatch_drivers.mqtt.topic import parse_topic
from tests.conformance.recording import GUARD_S, RecordingIntake
from tests.conformance.wires import Board
from tests.support.broker import Broker
from tests.support.running import Site, mqtt_source, probe, serial_source, source_of, value_of, vessel


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


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    with Broker(tmp_path / "broker", max_queued_messages=0) as running_broker:
        yield running_broker


def logins(broker: Broker) -> list[str]:
    """The client ids that came in, without those of mosquitto_pub."""
    words = [
        line.split(" as ")[1].split(" ")[0] for line in broker.log().splitlines() if "New client connected" in line
    ]
    return [word for word in words if word.startswith("fermwatch-")]


@pytest.mark.needs_broker
def test_two_sources_of_one_broker_are_one_connection_and_both_come_back(site: Site, broker: Broker) -> None:
    site.configure(
        vessel(),
        mqtt_source("probes", broker.port, "cellar/{fermenter}/t"),
        mqtt_source("floats", broker.port, "floats/{name}", 'payload = "json"'),
        probe("left-beer", "probes", "left"),
        probe("left-air", "floats", "one#/air", 'quantity = "air-temperature"'),
    )

    def say(beer: float, air: float) -> None:
        broker.publish("cellar/left/t", str(beer))
        broker.publish("floats/one", f'{{"air": {air}}}')
        site.until_status(
            lambda said: (value_of(said, "left-beer"), value_of(said, "left-air")) == (beer, air), "both are heard"
        )

    with site.watched() as watching:
        watching.says("source probes is connected")
        watching.says("source floats is connected")
        assert logins(broker) == ["fermwatch-probes"]
        say(19.5, 15.25)
        broker.stop()
        watching.says("source probes: No broker answers")
        watching.says("source floats: No broker answers")
        broker.start()
        site.until_status(
            lambda said: {source_of(said, name)["state"] for name in ("probes", "floats")} == {"connected"},
            "both are back",
        )
        say(20.5, 16.25)
        assert watching.stop() == 0
    broker.publish("floats/one", '{"air": 17.75}')
    with site.watched():
        site.until_status(lambda said: value_of(said, "left-air") == 17.75, "what came while nobody watched is heard")
    assert set(logins(broker)) == {"fermwatch-probes"}
    assert [reading.value for reading in site.readings("left-air")] == [15.25, 16.25, 17.75]


def drivers_on(broker: Broker, topics: dict[str, str], **more: object) -> list[MqttDriver]:
    """A driver for each source and its topic, as one watcher makes them."""
    wires = Wires()
    return [
        MQTT.create(
            name,
            MQTT.options.model_validate({"host": "127.0.0.1", "port": broker.port, "topic": topic, **more}),
            [parse_topic(topic).channel("cellar/left/t") or "left/t"],
            SystemClock(),
            wires,
        )
        for name, topic in topics.items()
    ]


@contextlib.asynccontextmanager
async def running(
    drivers: list[MqttDriver], intakes: list[RecordingIntake]
) -> AsyncIterator[list["asyncio.Task[None]"]]:
    times = [len(intake.details) + 1 for intake in intakes]
    tasks = [asyncio.create_task(driver.run(intake)) for driver, intake in zip(drivers, intakes, strict=True)]
    try:
        for intake, count in zip(intakes, times, strict=True):
            await intake.until_connected(count)
        yield tasks
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


async def publish(broker: Broker, *values: float) -> None:
    await asyncio.to_thread(broker.publish_lines, "cellar/left/t", [str(value) for value in values])


SAME = {"one": "cellar/{fermenter}/{what}", "two": "cellar/{f}/{w}"}


@pytest.mark.needs_broker
async def test_a_message_of_two_sources_is_acknowledged_when_both_have_committed_it(broker: Broker) -> None:
    done, late = RecordingIntake(), RecordingIntake(settling=False)
    async with running(drivers_on(broker, SAME), [done, late]):
        await publish(broker, 19.5, 20.5)
        for intake in (done, late):
            await intake.until_heard("left/t", 20.5)
    again = [RecordingIntake(), RecordingIntake()]
    async with running(drivers_on(broker, SAME), again):
        for intake in again:
            await intake.until_heard("left/t", 20.5)
            assert [reading.redelivered for reading in intake.readings] == [True, True]
            assert [reading.message_id for reading in intake.readings] == [one.message_id for one in done.readings]
    async with running(drivers_on(broker, SAME), again):
        await publish(broker, 21.5)
        for intake in again:
            await intake.until_heard("left/t", 21.5)
            assert intake.values("left/t") == [19.5, 20.5, 21.5], "what both have committed does not come again"


@pytest.mark.needs_broker
@pytest.mark.parametrize(
    ("other", "connections"),
    [("cellar/{f}/{w}", 1), ("cellar/#", 1), ("cellar/left/{w}", 1), ("{site}/left/{w}", 2)],
)
async def test_topics_that_have_something_in_common_bring_each_message_once(
    broker: Broker, other: str, connections: int
) -> None:
    intakes = [RecordingIntake(), RecordingIntake()]
    async with running(drivers_on(broker, {"one": "cellar/{fermenter}/{what}", "two": other}), intakes):
        await publish(broker, 19.5, 20.5)
        for intake in intakes:
            await intake.until(lambda one: any(reading.value == 20.5 for reading in one.readings))
        await asyncio.sleep(0.2)
        assert [[reading.value for reading in intake.readings] for intake in intakes] == [[19.5, 20.5]] * 2
        assert len(logins(broker)) == connections


@pytest.mark.needs_broker
async def test_one_client_id_for_topics_that_overlap_in_part_is_a_mistake_of_the_configuration(broker: Broker) -> None:
    topics = {"one": "cellar/left/{what}", "two": "cellar/{fermenter}/t"}
    with pytest.raises(ConfigError, match=r"overlap in part: cellar/\+/t .* client_id of its own"):
        drivers_on(broker, topics, client_id="cellar")


@pytest.mark.needs_broker
async def test_a_source_that_stumbles_does_not_hold_up_the_other(broker: Broker) -> None:
    class Stumbling(RecordingIntake):
        async def deliver(self, delivery: Delivery) -> None:
            raise TypeError(str(delivery))

    good, bad = RecordingIntake(), Stumbling()
    async with running(drivers_on(broker, SAME), [good, bad]) as tasks:
        await publish(broker, 19.5)
        await good.until_heard("left/t", 19.5)
        with pytest.raises(TypeError):
            await asyncio.wait_for(tasks[1], GUARD_S)
        await publish(broker, *range(100))
        await good.until_heard("left/t", 99.0)
        assert not tasks[0].done()
    assert len(logins(broker)) == 1


@pytest.mark.needs_broker
async def test_a_topic_that_the_broker_forbids_stops_its_own_source_alone(tmp_path: Path) -> None:
    """A broker of our own making: the one at hand lets every subscription stand."""
    told: list[bytes] = []

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.read(1024)
        writer.write(b"\x20\x03\x00\x00\x00")
        while subscribe := await reader.read(1024):
            told.append(subscribe)
            code = b"\x87" if b"attic" in subscribe else b"\x01"
            writer.write(b"\x90\x04" + subscribe[2:4] + b"\x00" + code)
        writer.close()

    listening = await asyncio.start_server(serve, "127.0.0.1", 0)
    broker = Broker(tmp_path, port=listening.sockets[0].getsockname()[1])
    good, bad = RecordingIntake(), RecordingIntake()
    drivers = drivers_on(broker, {"one": "cellar/{fermenter}/{what}", "two": "attic/{fermenter}/{what}"})
    async with running(drivers[:1], [good]) as (first,):
        for _ in range(2):
            said = (await asyncio.gather(drivers[1].run(bad), return_exceptions=True))[0]
            assert "does not let us read attic/+/+" in str(said)
        assert not first.done()
    assert bad.details == []
    assert len([one for one in told if b"attic" in one]) == 2, "asked anew, on the same connection"
    listening.close()
