"""Orders to a Modbus controller: what each answer means, devices that do otherwise, and orders that come too late."""

import asyncio
from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime, timedelta

import pytest
from pymodbus.constants import ExcCodes

from fermwatch.clock import Clock, ManualClock, SystemClock
from fermwatch.contracts.controller import Controller, Order, OrderResult, SetPoint
from fermwatch.contracts.wire import Wires
from fermwatch.control.setting import TRIES, Setting, step
from fermwatch_drivers.modbus.driver import TCP_CONTROLLER
from fermwatch_drivers.modbus.frames import Function
from tests.support.modbus import ModbusPeer

SET_POINT = 10


@pytest.fixture
async def peer() -> AsyncIterator[ModbusPeer]:
    made = ModbusPeer()
    await made.start()
    for address, word in ((0, 2611), (1, 185)):
        await made.set(Function.INPUT, address, word)
    await made.set(Function.HOLDING, SET_POINT, 180)
    yield made
    await made.stop()


def controller_at(port: int, clock: Clock | None = None, limit_s: float = 30.0) -> Controller:
    options = TCP_CONTROLLER.options(host="127.0.0.1", port=port, map="worked-example", answer_limit_s=limit_s)
    return TCP_CONTROLLER.create("fridge", options, clock or SystemClock(), Wires())


def order(target_c: float, at: datetime | None = None) -> Order:
    asked_at = at or datetime.now(UTC)
    return Order("an order", asked_at, asked_at + timedelta(seconds=30), SetPoint(target_c))


@pytest.mark.parametrize(
    ("code", "result"),
    [
        (ExcCodes.ILLEGAL_FUNCTION, OrderResult.REFUSED),
        (ExcCodes.ILLEGAL_ADDRESS, OrderResult.REFUSED),
        (ExcCodes.ILLEGAL_VALUE, OrderResult.REFUSED),
        (ExcCodes.DEVICE_FAILURE, OrderResult.UNANSWERED),
        (ExcCodes.ACKNOWLEDGE, OrderResult.TAKEN),  # and read back, as everything
        (ExcCodes.DEVICE_BUSY, OrderResult.BUSY),
        (ExcCodes.NEGATIVE_ACKNOWLEDGE, OrderResult.UNANSWERED),
        (ExcCodes.MEMORY_PARITY_ERROR, OrderResult.UNANSWERED),
        (ExcCodes.GATEWAY_PATH_UNAVIABLE, OrderResult.UNANSWERED),
        (ExcCodes.GATEWAY_NO_RESPONSE, OrderResult.UNANSWERED),
    ],
)
async def test_each_exception_is_classified(peer: ModbusPeer, code: ExcCodes, result: OrderResult) -> None:
    peer.excepting = code
    response = await controller_at(peer.port).ask(order(19.0))
    assert response.result is result
    assert f"exception {code:02X}" in response.detail
    assert len(peer.writes) == 1, "nothing is repeated by itself"


@pytest.mark.parametrize(
    ("bend", "confirmed", "writes"),
    [
        (lambda word, _before: word, True, 1),
        (lambda word, _before: min(word, 185), False, TRIES),  # clamps
        (lambda word, _before: round(word / 5) * 5, False, TRIES),  # rounds to half a degree
        (lambda _word, before: before, False, TRIES),  # ignores
    ],
)
async def test_a_device_that_does_otherwise_is_found_out_and_left_alone(
    peer: ModbusPeer, bend: Callable[[int, int], int], confirmed: bool, writes: int
) -> None:
    peer.bend = bend
    setting = await _settled(controller_at(peer.port), 19.2)
    assert (setting.confirmed, setting.given_up) == (confirmed, not confirmed)
    assert len(peer.writes) == writes
    assert {word for _, words in peer.writes for word in words} == {192}


async def test_a_confirmation_that_is_lost_is_read_back_and_not_written_again(peer: ModbusPeer) -> None:
    controller = controller_at(peer.port, limit_s=0.3)
    lost: list[bytes] = []

    def lose(sent: bytes) -> bytes:
        """The confirmation alone: function 6."""
        if sent[7] != 6:
            peer.spoil = lose
            return sent
        lost.append(sent)
        return b""

    peer.spoil = lose
    setting = await _settled(controller, 19.2)
    assert lost
    assert setting.confirmed
    assert len(peer.writes) == 1
    assert await peer.holding(SET_POINT) == 192


async def _settled(controller: Controller, wish_c: float) -> Setting:
    """As who controls does it: reads, decides, and asks at most once after each reading."""
    ability = controller.abilities.set_point
    assert ability is not None
    setting = Setting()
    for turn in range(12):
        shown = (await controller.read()).set_point_c
        setting, write = step(setting, wish_c, shown, float(turn), ability)
        if write:
            assert setting.target_c is not None
            await controller.ask(order(setting.target_c))
    return setting


class Mute:
    """Hears everything, and answers nothing but where the profile is asked for."""

    def __init__(self) -> None:
        self.heard: list[bytes] = []
        self.ends: list[str] = []
        self.news = asyncio.Event()
        self.meeting = True

    async def start(self) -> int:
        self._server = await asyncio.start_server(self._serve, "127.0.0.1", 0)
        port: int = self._server.sockets[0].getsockname()[1]
        return port

    async def stop(self) -> None:
        self._server.close()
        await self._server.wait_closed()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            while question := await reader.readexactly(12):
                self.heard.append(question)
                if question[7:10] == b"\x04\x00\x00" and self.meeting:
                    writer.write(question[:4] + b"\x00\x05" + question[6:7] + b"\x04\x02" + (2611).to_bytes(2, "big"))
                self.news.set()
        except asyncio.IncompleteReadError:
            self.ends.append("closed")
        except ConnectionResetError:
            self.ends.append("reset")
        finally:
            self.news.set()
            writer.close()

    async def until(self, true: Callable[[], object]) -> None:
        async with asyncio.timeout(30):
            while not true():
                self.news.clear()
                await self.news.wait()


async def test_an_order_whose_turn_comes_too_late_is_not_sent() -> None:
    """As after a stop and SIGCONT: the wire was busy, the clock went on."""
    mute, clock = Mute(), ManualClock(datetime(2026, 3, 1, 12, tzinfo=UTC))
    controller = controller_at(await mute.start(), clock, limit_s=0.5)
    reading = asyncio.create_task(controller.read())
    await mute.until(lambda: len(mute.heard) == 2)  # its profile, and the first question: nobody answers that
    ordering = asyncio.create_task(controller.ask(order(19.0, clock.at)))
    await asyncio.sleep(0.05)
    clock.advance(600.0)
    assert (await ordering).result is OrderResult.EXPIRED
    await asyncio.gather(reading, return_exceptions=True)
    assert all(question[7] != 6 for question in mute.heard)
    await mute.stop()


async def test_a_write_that_is_not_answered_ends_the_connection_with_all_that_was_not_sent() -> None:
    mute = Mute()
    controller = controller_at(await mute.start(), limit_s=0.2)
    response = await controller.ask(order(19.0))
    assert response.result is OrderResult.UNANSWERED
    assert "No answer of device 1" in response.detail
    await mute.until(lambda: mute.ends)
    assert mute.ends == ["reset"], "what a network still holds is not delivered when it comes back"
    await mute.stop()
