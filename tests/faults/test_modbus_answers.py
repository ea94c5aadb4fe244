"""Ten thousand transactions with a device that misbehaves: no wrong value is believed, no wrong write confirmed."""

import asyncio
import random
from collections import Counter
from collections.abc import AsyncIterator
from contextlib import AsyncExitStack, asynccontextmanager, suppress
from itertools import count
from pathlib import Path

from fermwatch.clock import SystemClock
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ProbeError, ProbeMisbehaving
from fermwatch_drivers.modbus.driver import TCP_CONTROLLER
from fermwatch_drivers.modbus.frames import Function, ModbusException, Read, Write
from fermwatch_drivers.modbus.line import Addressed, ModbusWire, NoAnswer
from fermwatch_drivers.modbus.options import ModbusRtuOptions
from fermwatch_drivers.modbus.rtu import RtuWire
from fermwatch_drivers.modbus.tcp import TcpWire
from tests.support.rogue import STEPS, TRICKS, Rogue, number_of
from tests.support.rogue_line import LINE_TRICKS, RogueLine

REGISTERS = 400
WORKERS = 20
LINES = 80
TRANSACTIONS = 10_000
LIMIT_S = 0.05


@asynccontextmanager
async def _kept(wire: TcpWire) -> AsyncIterator[None]:
    """Open as long as this lasts, or until it ends by itself."""
    async with AsyncExitStack() as stack:
        with suppress(ProbeError):
            await stack.enter_async_context(wire.used())
        yield


class Ledger:
    """What came of all transactions with one device."""

    def __init__(self, rogue: Rogue) -> None:
        self._rogue = rogue
        self._steps: dict[int, count[int]] = {address: count(1) for address in range(REGISTERS)}
        self.seen: Counter[str] = Counter()
        self.excepted: set[int] = set()
        self.confirmed: list[tuple[int, tuple[int, ...]]] = []

    async def transact(self, wire: ModbusWire, chance: random.Random) -> None:
        """One question, whatever comes of it. What is read must be the numbers of these very registers."""
        question = self._question(chance)
        try:
            async with wire.used() as line:
                words = await line.ask(Addressed(1, question), limit_s=LIMIT_S)
        except ModbusException as error:
            self.seen["exception"] += 1
            self.excepted.add(error.code)
        except NoAnswer:
            self.seen["no answer"] += 1
        except ProbeMisbehaving:
            self.seen["damaged"] += 1
        except ProbeError:
            self.seen["lost"] += 1
        else:
            if isinstance(question, Write):
                self.confirmed.append((question.address, question.words))
                return
            self.seen["read"] += 1
            wanted = range(question.address, question.address + question.count)
            assert [word // STEPS for word in words] == list(wanted)

    def must_be_true(self, *, of: set[str]) -> None:
        """Nothing was confirmed that was not done to that very register; and all kinds of trouble were there."""
        applied = Counter(self._rogue.applied)
        assert all(applied[one] for one in self.confirmed)
        assert self.excepted <= self._rogue.excepted
        assert sum(self.seen.values()) + len(self.confirmed) == TRANSACTIONS
        assert self.confirmed
        assert all(self.seen[kind] for kind in of)

    def _question(self, chance: random.Random) -> Read | Write:
        address, length = chance.randrange(REGISTERS - 4), chance.randint(1, 4)
        if chance.random() < 0.5:
            return Read(chance.choice([Function.HOLDING, Function.INPUT]), address, length)
        new = tuple(number_of(address + at, next(self._steps[address + at]) % STEPS) for at in range(length))
        return Write(Function.HOLDING, address, new)


async def test_over_tcp_no_wrong_value_is_read_and_no_wrong_write_confirmed() -> None:
    rogue = Rogue(random.Random(5), registers=REGISTERS, late_s=1.2 * LIMIT_S)
    port, ledger = await rogue.start(), Ledger(rogue)

    async def work(number: int) -> None:
        chance, wire = random.Random(number), TcpWire("127.0.0.1", port)
        for _ in range(TRANSACTIONS // WORKERS // 10):
            async with _kept(wire):  # ten over one connection, or over as many as it takes
                for _ in range(10):
                    await ledger.transact(wire, chance)

    try:
        await asyncio.gather(*(work(number) for number in range(WORKERS)))
    finally:
        await rogue.stop()
    assert set(rogue.tricks) == TRICKS | {"well"}
    ledger.must_be_true(of={"read", "exception", "no answer", "damaged", "lost"})


async def test_on_a_serial_line_neither_where_no_answer_is_later_than_the_drain_time() -> None:
    """Half the drain time late at most: an answer that comes after it may be another's, and the page says so."""
    rogue = Rogue(random.Random(6), registers=REGISTERS, late_s=1.2 * LIMIT_S)
    ledger, lines = Ledger(rogue), [RogueLine(rogue, random.Random(number)) for number in range(LINES)]

    async def work(line: RogueLine) -> None:
        said = {"port": line.port, "baud": 115_200, "drain_s": 6 * LIMIT_S, "map": "worked-example"}
        wire = RtuWire(ModbusRtuOptions.model_validate(said), SystemClock())
        async with wire.used():
            for _ in range(TRANSACTIONS // LINES):
                await ledger.transact(wire, line.chance)

    try:
        await asyncio.gather(*(work(line) for line in lines))
    finally:
        await rogue.rest()
        for line in lines:
            line.close()
    assert set(rogue.tricks) == LINE_TRICKS | {"well"}
    ledger.must_be_true(of={"read", "exception", "no answer", "damaged"})


MAP = """
title = "a device that misbehaves"
[measured]
function = "input"
address = 3
scale = 0.1
low = -40
high = 110
[set-point]
function = "holding"
address = 7
scale = 0.01
low = -10
high = 40
[outputs.cool]
function = "holding"
address = 1
bit = 2
"""


async def test_a_controller_shows_what_is_true_or_that_it_does_not_know(tmp_path: Path) -> None:
    """Register 3 holds 300, register 7 holds 700, and register 1 holds 100, whose bit 2 is set."""
    rogue = Rogue(random.Random(8), registers=REGISTERS, late_s=1.2 * LIMIT_S)
    (tmp_path / "map.toml").write_text(MAP)
    said = {"host": "127.0.0.1", "port": await rogue.start(), "map_file": tmp_path / "map.toml"}
    options = TCP_CONTROLLER.options.model_validate({**said, "answer_limit_s": LIMIT_S})
    shown: dict[str, set[object]] = {"measured": set(), "set-point": set(), "on": set()}

    async def look(number: int) -> None:
        controller = TCP_CONTROLLER.create(f"fridge {number}", options, SystemClock(), Wires())
        for _ in range(25):
            with suppress(ProbeError):
                seen = await controller.read()
                for name, value in zip(shown, (seen.measured_c, seen.set_point_c, seen.on), strict=True):
                    shown[name].add(value)

    try:
        await asyncio.gather(*(look(number) for number in range(WORKERS)))
    finally:
        await rogue.stop()
    assert shown == {"measured": {30.0, None}, "set-point": {7.0, None}, "on": {frozenset({"cool"}), None}}
