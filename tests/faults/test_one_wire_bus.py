"""A 1-Wire bus with several thermometers: each by its own number, and none in the way of another."""

import asyncio
import os
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from fermwatch.clock import SystemClock
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ConfigError, ProbeUnavailable
from fermwatch_drivers.one_wire.driver import DRIVER
from fermwatch_sim.one_wire import OneWireBus, scratchpad, shown
from tests.conformance.recording import RecordingIntake

BEER, AIR, SPARE = "28-0316a2794d31", "28-0316a2794d32", "22-000000001f2e"


@pytest.fixture
def bus(tmp_path: Path) -> OneWireBus:
    made = OneWireBus(tmp_path)
    made.plug_in()
    return made


@asynccontextmanager
async def listened(bus: OneWireBus, *channels: str, limit_s: float = 0.2) -> AsyncIterator[RecordingIntake]:
    options = DRIVER.options(directory=bus.devices, every_s=0.02, answer_limit_s=limit_s)
    intake = RecordingIntake()
    running = asyncio.create_task(DRIVER.create("bus", options, channels, SystemClock(), Wires()).run(intake))
    yield intake
    assert not running.done(), running
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)


def reasons(intake: RecordingIntake, channel: str) -> set[str]:
    return {one.reason for each in intake.deliveries for one in each.rejections if one.channel == channel}


async def test_each_is_heard_by_its_own_number_and_an_unbound_one_once(bus: OneWireBus) -> None:
    for sensor, celsius in ((BEER, 19.5), (AIR, 8.25), (SPARE, 21.0)):
        bus.measures(sensor, celsius)
    async with listened(bus, BEER, AIR) as intake:
        await intake.until_heard(BEER, 19.5)
        bus.measures(BEER, 19.5625)
        await intake.until_heard(BEER, 19.5625)
        assert intake.details == ["3 thermometers on the bus"]
        assert set(intake.values(AIR)) == {8.25}
        assert intake.values(SPARE) == [21.0]
        assert intake.rejected == 0


async def test_one_that_vanishes_and_comes_back_disturbs_no_other(bus: OneWireBus) -> None:
    bus.measures(BEER, 19.5)
    bus.measures(AIR, 8.25)
    async with listened(bus, BEER, AIR) as intake:
        await intake.until_heard(BEER, 19.5)
        bus.remove(BEER)
        await intake.until(lambda one: "it is not on the bus" in reasons(one, BEER))
        bus.measures(AIR, 8.5)
        await intake.until_heard(AIR, 8.5)
        bus.measures(BEER, 18.0)
        await intake.until_heard(BEER, 18.0)
        assert set(intake.values(BEER)) == {19.5, 18.0}


async def test_one_that_hangs_is_passed_over_and_not_asked_again_until_it_is_back(bus: OneWireBus) -> None:
    bus.measures(AIR, 8.25)
    pipe = bus.hangs(BEER)
    async with listened(bus, BEER, AIR, limit_s=0.05) as intake:
        await intake.until(lambda one: sum(each.rejections != () for each in one.deliveries) >= 5)
        assert reasons(intake, BEER) == {"it does not answer"}
        assert len(set(intake.values(AIR))) == 1
        assert threads_of(BEER) == 1, "five rounds, and one thread that hangs"
        end = await asyncio.to_thread(os.open, pipe, os.O_WRONLY)  # whoever waits in it is let go, and reads nothing
        bus.measures(BEER, 19.5)
        os.close(end)
        await intake.until_heard(BEER, 19.5)


def threads_of(sensor: str) -> int:
    return sum(one.name == f"one-wire {sensor}" for one in threading.enumerate())


@pytest.mark.parametrize(
    "text",
    [
        shown(bytes(9)),
        shown(b"\xff" * 9),
        shown(scratchpad(0x0550, reserved=0x0C)),
        shown(scratchpad(320), kept=scratchpad(304), holds=False),
    ],
    ids=["held low", "held high", "power-on", "an old value"],
)
async def test_no_value_that_was_not_measured_is_ever_heard(bus: OneWireBus, text: str) -> None:
    bus.shows(BEER, text)
    async with listened(bus, BEER) as intake:
        await intake.until(lambda one: one.rejected >= 3)
        assert intake.values(BEER) == []
        bus.measures(BEER, 20.0)
        await intake.until_heard(BEER, 20.0)
        assert set(intake.values(BEER)) == {20.0}


async def test_without_a_bus_or_anything_on_it_the_source_is_unavailable(bus: OneWireBus, tmp_path: Path) -> None:
    for place, why in ((bus.devices, "No thermometer is on"), (tmp_path / "nowhere", "There is no 1-Wire bus")):
        driver = DRIVER.create("bus", DRIVER.options(directory=place), (BEER,), SystemClock(), Wires())
        with pytest.raises(ProbeUnavailable, match=why) as told:
            await driver.run(RecordingIntake())
        assert told.value.hint


@pytest.mark.parametrize(
    "name", ["t1", "28-0316A2794D31", "../28-0316a2794d31", "81-0316a2794d31", "28-0316a2794d31/x"]
)
def test_what_names_no_thermometer_is_refused_before_the_start(name: str) -> None:
    with pytest.raises(ConfigError, match="names no thermometer"):
        DRIVER.create("bus", DRIVER.options(), (name,), SystemClock(), Wires())
