"""What every controller promises, tried on every one against an invented device on a real wire."""

import asyncio
import contextlib
import threading
from collections.abc import AsyncIterator, Iterator
from datetime import UTC, datetime, timedelta
from importlib.metadata import entry_points
from pathlib import Path

import pytest
from blockbuster import blockbuster_ctx

from fermwatch.clock import Clock, ManualClock, SystemClock
from fermwatch.contracts.controller import (
    CONTRACT_VERSION,
    CONTROLLERS,
    Controller,
    Order,
    OrderResult,
    Seen,
    SetPoint,
    Switch,
)
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ProbeError, ProbeUnavailable
from fermwatch.model.degree import Output
from fermwatch_sim.virtual_controller import Mode
from tests.conformance.controllers import CONTROLLER_BENCHES, ControllerBench
from tests.conformance.recording import GUARD_S, RecordingIntake
from tests.conformance.test_drivers import descriptors, stop

COOL, HEAT = frozenset({Output.COOL}), frozenset({Output.HEAT})
MINUTE = timedelta(minutes=1)


@pytest.fixture(
    params=[
        pytest.param(name, marks=[pytest.mark.needs_broker] if "mqtt" in name else []) for name in CONTROLLER_BENCHES
    ]
)
async def bench(request: pytest.FixtureRequest, tmp_path: Path) -> AsyncIterator[ControllerBench]:
    made: ControllerBench = CONTROLLER_BENCHES[request.param](tmp_path)
    await made.start()
    yield made
    await made.close()


@pytest.fixture(autouse=True)
def nothing_blocks_the_loop() -> Iterator[None]:
    with blockbuster_ctx("fermwatch_drivers"):
        yield


class RecordingHearing(RecordingIntake):
    """An intake that notes what was seen too."""

    def __init__(self) -> None:
        super().__init__()
        self.pictures: list[Seen] = []

    async def seen(self, seen: Seen) -> None:
        self.pictures.append(seen)
        self._news.set()


def controller_on(bench: ControllerBench, clock: Clock | None = None) -> Controller:
    return bench.kind.create("bench", bench.options(), clock or SystemClock(), Wires())


def order(what: SetPoint | Switch, asked_at: datetime | None = None) -> Order:
    at = asked_at or datetime.now(UTC)
    return Order("an order", at, at + MINUTE, what)


def test_every_registered_controller_has_a_bench_here() -> None:
    assert {point.name for point in entry_points(group=CONTROLLERS.name)} == set(CONTROLLER_BENCHES)


@pytest.mark.parametrize("name", CONTROLLER_BENCHES)
def test_a_kind_speaks_the_contract_and_each_option_has_a_sentence(name: str) -> None:
    (point,) = entry_points(group=CONTROLLERS.name, name=name)
    kind = point.load()
    assert kind is CONTROLLER_BENCHES[name].kind
    assert kind.contract_version == CONTRACT_VERSION
    options = kind.options
    assert all(field.description and field.description.endswith(".") for field in options.model_fields.values())
    assert options.model_config["extra"] == "forbid"


async def test_it_shows_what_the_device_shows_and_a_broken_probe_shows_nothing(bench: ControllerBench) -> None:
    controller = controller_on(bench)
    bench.device.measured_c = 18.4
    seen = await controller.read()
    assert (seen.measured_c, seen.set_point_c, seen.on, seen.alarms) == (18.4, 18.0, frozenset(), frozenset())
    bench.device.probe_broken = bench.device.door_open = True
    seen = await controller.read()
    assert (seen.measured_c, seen.set_point_c) == (None, 18.0)
    assert seen.alarms == frozenset({"probe-broken", "door-open"}) & set(controller.abilities.alarms)


async def test_a_set_point_is_written_and_read_back(bench: ControllerBench) -> None:
    controller = controller_on(bench)
    response = await controller.ask(order(SetPoint(19.5)))
    assert response.result in {OrderResult.TAKEN, OrderResult.UNANSWERED}, response
    assert bench.device.set_point_c == 19.5
    assert [(await controller.read()).set_point_c for _ in range(2)] == [19.5, 19.5]
    assert bench.device.set_point_writes == 1, "sent once"


async def test_outputs_are_leased_and_what_is_not_named_is_off(bench: ControllerBench) -> None:
    bench.device.mode = Mode.BY_COMMAND
    controller = controller_on(bench)
    for on in (COOL, HEAT, frozenset[Output]()):
        response = await controller.ask(order(Switch(on, 60.0)))
        assert response.result in {OrderResult.TAKEN, OrderResult.UNANSWERED}, response
        assert (await controller.read()).on == on
    assert [on for _, on in bench.device.switched] == [COOL, HEAT, frozenset()]


async def test_what_the_device_refuses_is_not_called_done(bench: ControllerBench) -> None:
    """It regulates by itself, and takes no command."""
    controller = controller_on(bench)
    response = await controller.ask(order(Switch(COOL, 60.0)))
    assert response.result in {OrderResult.REFUSED, OrderResult.UNANSWERED}
    assert (await controller.read()).on == frozenset()


async def test_an_order_is_not_sent_from_its_expiry_on_nor_on_a_clock_that_was_set_back(bench: ControllerBench) -> None:
    clock = ManualClock(datetime(2026, 3, 1, 12, tzinfo=UTC))
    controller = controller_on(bench, clock)
    asked = order(SetPoint(19.5), clock.at)
    for at in (asked.expires_at, asked.expires_at + MINUTE, asked.asked_at - timedelta(seconds=1)):
        clock.at = at
        assert (await controller.ask(asked)).result is OrderResult.EXPIRED
    assert bench.device.set_point_writes == 0


async def test_what_it_cannot_do_is_a_mistake_of_who_asks(bench: ControllerBench) -> None:
    controller = controller_on(bench)
    ability = controller.abilities.set_point
    assert ability is not None
    for what in (SetPoint(ability.high_c + 1.0), SetPoint(float("nan")), Switch(COOL, 100_000.0)):
        with pytest.raises(ValueError, match=r"."):
            await controller.ask(order(what))
    assert bench.device.set_point_writes == 0
    assert not bench.device.switched


async def test_it_runs_as_a_source_and_writes_nothing_by_itself(bench: ControllerBench) -> None:
    hearing, controller = RecordingHearing(), controller_on(bench)
    bench.device.mode = Mode.BY_COMMAND
    for turn in (1, 2):
        running = asyncio.create_task(controller.run(hearing))
        await hearing.until_connected(turn)
        await hearing.until(lambda _: len(hearing.pictures) >= 2 * turn)  # noqa: B023
        await stop(running)
    assert {reading.channel for reading in hearing.readings} == {
        "measured",
        "set-point",
        "cool",
        "heat",
        *controller.abilities.alarms,
    }
    assert hearing.values("set-point")[0] == 18.0
    assert bench.device.set_point_writes == 0
    assert not bench.device.switched, "neither on opening nor on the way out"


async def test_it_is_asked_while_it_runs(bench: ControllerBench) -> None:
    hearing, controller = RecordingHearing(), controller_on(bench)
    running = asyncio.create_task(controller.run(hearing))
    await hearing.until_connected()
    await controller.ask(order(SetPoint(17.5)))
    await hearing.until_heard("set-point", 17.5)
    await stop(running)


async def test_a_wire_that_is_cut_is_no_answer_and_comes_back(bench: ControllerBench) -> None:
    hearing, controller = RecordingHearing(), controller_on(bench)
    running = asyncio.create_task(controller.run(hearing))
    await hearing.until_connected()
    await bench.cut()
    with pytest.raises(ProbeUnavailable):
        await asyncio.wait_for(running, GUARD_S)
    with pytest.raises(ProbeUnavailable):
        await controller.read()
    response = await controller.ask(order(SetPoint(19.5)))
    assert response.result is OrderResult.UNANSWERED
    assert response.detail.isprintable()
    await bench.start()
    assert bench.device.set_point_writes == 0, "nothing that was asked before is done now"
    assert (await controller.read()).set_point_c == 18.0


async def test_it_stops_and_frees_what_it_opened(bench: ControllerBench) -> None:
    controller, before, threads = controller_on(bench), None, None
    for turn in range(4):
        hearing = RecordingHearing()
        running = asyncio.create_task(controller.run(hearing))
        await hearing.until_connected()
        await stop(running)
        asking = asyncio.create_task(controller.ask(order(SetPoint(18.0))))
        await asyncio.sleep(0.001 * turn)
        asking.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await asking
        await _read_at_last(controller)
        await asyncio.sleep(0.05)
        if turn == 0:
            before, threads = descriptors(), threading.active_count()
    assert before is not None
    assert descriptors() <= before
    assert threading.active_count() == threads


async def _read_at_last(controller: Controller) -> Seen:
    """A port whose opening was broken off is free a moment later, when the kernel has come back from it."""
    async with asyncio.timeout(GUARD_S):
        while True:
            try:
                return await controller.read()
            except ProbeError:
                await asyncio.sleep(0.01)
