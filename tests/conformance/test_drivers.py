"""What every driver promises, tried on every driver over a real wire."""

import asyncio
import contextlib
import random
import threading
import time
from collections.abc import AsyncIterator, Iterator
from importlib.metadata import entry_points
from pathlib import Path

import pytest
from blockbuster import blockbuster_ctx

from fermwatch.clock import SystemClock
from fermwatch.contracts.driver import CONTRACT_VERSION, DRIVERS, Driver
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ProbeUnavailable
from tests.conformance.benches import BENCHES, Bench
from tests.conformance.recording import GUARD_S, RecordingIntake

STOP_GUARD_S = 20.0  # the contract says one second; the rest is for a busy machine

PROMISES = {
    "stable-channel-names",
    "tested-before-start",
    "damaged-frames-survived",
    "cancels-within-a-second",
    "unavailable-is-not-unknown",
    "one-line-per-loss",
    "explicit-concurrency",
    "no-secrets-shown",
    "real-hardware-captures",
    "limits-documented",
    "strict-types",
    "asynchronous",
}


@pytest.fixture(
    params=[pytest.param(name, marks=[pytest.mark.needs_broker] if "mqtt" in name else []) for name in BENCHES]
)
async def bench(request: pytest.FixtureRequest, tmp_path: Path) -> AsyncIterator[Bench]:
    made: Bench = BENCHES[request.param](tmp_path)
    await made.start()
    yield made
    await made.close()


def driver_on(bench: Bench) -> Driver:
    return bench.kind.create("bench", bench.options(), bench.channels, SystemClock(), Wires())


async def stop(running: "asyncio.Task[None]") -> None:
    running.cancel()
    with contextlib.suppress(asyncio.CancelledError):
        await running


@pytest.fixture(autouse=True)
def nothing_blocks_the_loop() -> Iterator[None]:
    """A driver that sleeps, reads a file or looks up a name on the event loop fails here."""
    with blockbuster_ctx("fermwatch_drivers"):
        yield


def descriptors() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


def test_every_registered_driver_has_a_bench_here() -> None:
    assert {point.name for point in entry_points(group=DRIVERS.name)} == set(BENCHES)


@pytest.mark.parametrize("name", BENCHES)
def test_a_kind_speaks_the_contract_and_says_what_it_promises(name: str) -> None:
    (point,) = entry_points(group=DRIVERS.name, name=name)
    kind = point.load()
    assert kind is BENCHES[name].kind
    assert kind.contract_version == CONTRACT_VERSION
    assert set(kind.quality) == PROMISES
    assert all(said == "done" or said.startswith("exempt: ") for said in kind.quality.values())


@pytest.mark.parametrize("name", BENCHES)
def test_every_option_has_a_sentence_and_an_unknown_one_is_refused(name: str) -> None:
    options = BENCHES[name].kind.options
    assert all(field.description and field.description.endswith(".") for field in options.model_fields.values())
    assert options.model_config["extra"] == "forbid"


async def test_readings_come_under_the_same_name_each_time(bench: Bench) -> None:
    intake = RecordingIntake()
    for turn, value in enumerate((19.5, 20.25), start=1):
        running = asyncio.create_task(driver_on(bench).run(intake))
        await intake.until_connected(turn)
        await bench.say(value)
        await intake.until_heard(bench.channels[0], value)
        await stop(running)
    assert list(dict.fromkeys(intake.values(bench.channels[0]))) == [19.5, 20.25], "what is polled says it again"


async def test_damaged_frames_are_counted_and_the_next_good_one_is_heard(bench: Bench) -> None:
    intake, chance = RecordingIntake(), random.Random(4)
    running = asyncio.create_task(driver_on(bench).run(intake))
    await intake.until_connected()
    for _ in range(30):
        frame = bytearray(bench.good * chance.randint(1, 3))
        for _ in range(chance.randint(1, 4)):
            frame[chance.randrange(len(frame))] = chance.choice([0, 3, 19, 27, 32, 61, 95, 120, 128, 255])
        await bench.damage(bytes(frame))
    await bench.say(4.75)
    await intake.until_heard(bench.channels[0], 4.75)
    assert intake.rejected > 0
    assert not running.done()
    await stop(running)


async def test_it_stops_within_a_second_and_frees_what_it_opened(bench: Bench) -> None:
    intake = RecordingIntake(settling=False)
    before, threads = None, None
    for turn in range(1, 5):
        running = asyncio.create_task(driver_on(bench).run(intake))
        await intake.until_connected(turn)
        began = time.monotonic()
        await stop(running)
        assert time.monotonic() - began < STOP_GUARD_S
        await asyncio.sleep(0.01)
        if turn == 1:
            before, threads = descriptors(), threading.active_count()
    assert before is not None
    assert descriptors() <= before
    assert threading.active_count() == threads


async def test_it_can_be_cancelled_at_any_moment_of_its_start(bench: Bench) -> None:
    intake = RecordingIntake()
    running = asyncio.create_task(driver_on(bench).run(intake))
    await intake.until_connected()
    await stop(running)
    await asyncio.sleep(0.05)
    before = descriptors()
    for turns in range(40):
        running = asyncio.create_task(driver_on(bench).run(intake))
        for _ in range(turns):
            await asyncio.sleep(0.0003)
        await stop(running)
    await asyncio.sleep(0.2)
    assert descriptors() <= before


async def test_a_wire_that_is_cut_is_unavailable_and_comes_back(bench: Bench) -> None:
    intake, driver = RecordingIntake(), driver_on(bench)
    running = asyncio.create_task(driver.run(intake))
    await intake.until_connected()
    await bench.cut()
    with pytest.raises(ProbeUnavailable) as lost:
        await asyncio.wait_for(running, GUARD_S)
    with pytest.raises(ProbeUnavailable) as absent:
        await asyncio.wait_for(driver.run(intake), GUARD_S)
    for error in (lost.value, absent.value):
        assert "\n" not in str(error)
        assert str(error).isprintable()
    await bench.start()
    running = asyncio.create_task(driver.run(intake))
    await intake.until_connected(2)
    await bench.say(19.5)
    await intake.until_heard(bench.channels[0], 19.5)
    await stop(running)
