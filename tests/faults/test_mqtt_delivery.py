"""No message that a broker took over is lost, whatever breaks: with a real mosquitto, published to by mosquitto_pub."""

import asyncio
import contextlib
import random
from collections.abc import AsyncIterator, Iterator
from functools import partial
from pathlib import Path

import pytest

from fermwatch.clock import SystemClock
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ProbeUnavailable
from fermwatch_drivers.mqtt.driver import DRIVER, MqttDriver
from fermwatch_drivers.mqtt.login import V311
from fermwatch_drivers.mqtt.wire import RECEIVE_MAXIMUM
from tests.conformance.recording import RecordingIntake
from tests.support.broker import Broker
from tests.support.proxy import Proxy

pytestmark = pytest.mark.needs_broker

CHANNEL = "left/t"
TOPIC = "cellar/left/t"


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    with Broker(tmp_path / "broker", max_queued_messages=0) as running_broker:
        yield running_broker


def driver_on(port: int, **more: object) -> MqttDriver:
    said = {"host": "127.0.0.1", "port": port, "topic": "cellar/{fermenter}/{what}", **more}
    return DRIVER.create("cellar", DRIVER.options.model_validate(said), [CHANNEL], SystemClock(), Wires())


@contextlib.asynccontextmanager
async def running(driver: MqttDriver, intake: RecordingIntake) -> AsyncIterator["asyncio.Task[None]"]:
    task = asyncio.create_task(driver.run(intake))
    times = len(intake.details) + 1
    try:
        await intake.until_connected(times)
        yield task
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def keep_running(driver: MqttDriver, intake: RecordingIntake) -> None:
    """Start it again whenever it fails, as supervision does, but without the pauses."""
    while True:
        with contextlib.suppress(ProbeUnavailable):
            await driver.run(intake)
        await asyncio.sleep(0.02)


def heard_all(count: int, intake: RecordingIntake) -> bool:
    return set(map(float, range(count))) <= set(intake.values(CHANNEL))


def numbers(first: int, end: int) -> list[str]:
    return [str(number) for number in range(first, end)]


async def publish(broker: Broker, lines: list[str]) -> None:
    await asyncio.to_thread(broker.publish_lines, TOPIC, lines)


@pytest.mark.parametrize("version", [5, 311])
async def test_what_was_not_committed_comes_again_after_a_crash(broker: Broker, version: int) -> None:
    def next_life() -> MqttDriver:
        driver = driver_on(broker.port)
        driver._wire._version = V311 if version == 311 else driver._wire._version
        return driver

    crashed, intake = RecordingIntake(settling=False), RecordingIntake()
    async with running(next_life(), crashed):
        await publish(broker, numbers(0, 15))
        await crashed.until(lambda one: len(one.readings) >= 15)
    async with running(next_life(), intake):
        await intake.until(lambda one: len(one.readings) >= 15)
        await publish(broker, ["99"])
        await intake.until_heard(CHANNEL, 99.0)
    assert intake.values(CHANNEL) == [*map(float, range(15)), 99.0]
    assert [reading.redelivered for reading in intake.readings] == [True] * 15 + [False]
    first, second = ([one.message_id for one in each.readings[:15]] for each in (crashed, intake))
    assert first == second, "by which the store knows them again"


async def test_what_was_committed_does_not_come_again(broker: Broker) -> None:
    intake = RecordingIntake()
    for first in (0, 10, 20):
        async with running(driver_on(broker.port), intake):
            await publish(broker, numbers(first, first + 10))
            await intake.until_heard(CHANNEL, first + 9.0)
    assert intake.values(CHANNEL) == [*map(float, range(30))]


async def test_messages_that_come_while_the_watcher_is_away_are_kept(broker: Broker) -> None:
    intake = RecordingIntake()
    async with running(driver_on(broker.port), intake):
        pass
    await publish(broker, numbers(0, 200))
    async with running(driver_on(broker.port), intake):
        await intake.until_heard(CHANNEL, 199.0)
    assert intake.values(CHANNEL) == [*map(float, range(200))]


async def test_a_commit_in_progress_is_waited_for_when_we_are_told_to_stop(broker: Broker) -> None:
    intake = RecordingIntake(settling=False)
    async with running(driver_on(broker.port), intake) as task:
        await publish(broker, ["19.5"])
        await intake.until_heard(CHANNEL, 19.5)
        asyncio.get_running_loop().call_later(0.05, intake.settle)
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
    async with running(driver_on(broker.port), intake):
        await publish(broker, ["20.5"])
        await intake.until_heard(CHANNEL, 20.5)
    assert intake.values(CHANNEL) == [19.5, 20.5]


async def test_a_store_that_stands_still_holds_the_broker_back(broker: Broker) -> None:
    intake, count = RecordingIntake(settling=False), RECEIVE_MAXIMUM + 500
    async with running(driver_on(broker.port), intake):
        await publish(broker, numbers(0, count))
        await asyncio.sleep(0.5)
        assert len(intake.readings) <= RECEIVE_MAXIMUM
        assert any(delivery.urgent for delivery in intake.deliveries)
        intake.settling = True
        intake.settle()
        await intake.until_heard(CHANNEL, count - 1.0)
    assert intake.values(CHANNEL) == [*map(float, range(count))]


async def test_only_a_sender_that_will_fall_silent_is_urgent(broker: Broker) -> None:
    intake = RecordingIntake()
    async with running(driver_on(broker.port), intake):
        await publish(broker, ["19.5"])
        await intake.until_heard(CHANNEL, 19.5)
    assert not intake.deliveries[0].urgent


async def test_a_broker_that_is_restarted_again_and_again_loses_nothing(broker: Broker) -> None:
    intake, driver = RecordingIntake(), driver_on(broker.port)
    task = asyncio.create_task(keep_running(driver, intake))
    await intake.until_connected()
    for turn in range(5):
        await publish(broker, numbers(100 * turn, 100 * (turn + 1)))
        await asyncio.to_thread(broker.restart)
    await intake.until(lambda one: len(set(one.values(CHANNEL))) == 500)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    fresh = [reading.value for reading in intake.readings if not reading.redelivered]
    assert len(fresh) == len(set(fresh)), "what came twice says so"


async def test_a_connection_cut_anywhere_loses_nothing(broker: Broker) -> None:
    intake, count = RecordingIntake(), 0
    proxy = Proxy(broker.port, random.Random(30))
    async with proxy as port:
        driver = driver_on(port)
        task = asyncio.create_task(keep_running(driver, intake))
        await intake.until_connected()
        while proxy.cuts < 2:  # how many a given count meets depends on the pace of the machine
            await publish(broker, numbers(count, count + 500))
            count += 500
            await intake.until(partial(heard_all, count))
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
    fresh = [reading.value for reading in intake.readings if not reading.redelivered]
    assert len(fresh) == len(set(fresh)), "what came twice says so"


async def test_settling_after_the_connection_has_gone_reaches_no_other_connection(broker: Broker) -> None:
    intake, driver = RecordingIntake(settling=False), driver_on(broker.port)
    async with running(driver, intake):
        await publish(broker, numbers(0, 5))
        await intake.until(lambda one: len(one.readings) == 5)
    intake.settle()
    async with running(driver, intake):
        await publish(broker, ["99"])
        await intake.until_heard(CHANNEL, 99.0)
        intake.settle()
    assert intake.values(CHANNEL) == [*map(float, range(5)), 99.0], "known again by the same driver"
    async with running(driver_on(broker.port), intake):
        await publish(broker, ["100"])
        await intake.until_heard(CHANNEL, 100.0)
    assert intake.values(CHANNEL)[-1] == 100.0


async def test_a_retained_value_is_last_known_and_a_live_one_is_not(broker: Broker) -> None:
    await asyncio.to_thread(broker.publish, TOPIC, "18.5", retain=True)
    intake = RecordingIntake()
    async with running(driver_on(broker.port), intake):
        await intake.until_heard(CHANNEL, 18.5)
        await asyncio.to_thread(broker.publish, TOPIC, "19.5", retain=True)
        await intake.until_heard(CHANNEL, 19.5)
    assert [(one.value, one.retained) for one in intake.readings] == [(18.5, True), (19.5, False)]


async def test_a_payload_of_a_megabyte_is_refused_and_the_next_one_heard(broker: Broker) -> None:
    intake = RecordingIntake()
    async with running(driver_on(broker.port), intake):
        await asyncio.to_thread(broker.publish, TOPIC, b"9" * 1_000_000)
        await asyncio.to_thread(broker.publish, TOPIC, "19.5")
        await intake.until_heard(CHANNEL, 19.5)
        await asyncio.sleep(0)
    (rejection,) = [one for delivery in intake.deliveries for one in delivery.rejections]
    assert (rejection.channel, rejection.count) == (CHANNEL, 1)
    assert "64 KiB" in rejection.reason


async def test_hostile_topics_and_payloads_stay_text(broker: Broker) -> None:
    intake = RecordingIntake()
    async with running(driver_on(broker.port), intake):
        for name in ("[/]", "[@click=app.quit]x[/b]", "\u202emoc"):
            await asyncio.to_thread(broker.publish, f"cellar/left/{name.replace('/', '')}", "1")
        await asyncio.to_thread(broker.publish, TOPIC, b"\x1b]52;c;aGk=\x07")
        await publish(broker, ["19.5"])
        await intake.until_heard(CHANNEL, 19.5)
    said = {one.channel for one in intake.readings}
    said |= {one.sample for delivery in intake.deliveries for one in delivery.rejections}
    assert all(text.isprintable() for text in said)
    assert intake.rejected == 1
