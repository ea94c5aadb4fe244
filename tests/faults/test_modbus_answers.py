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
from fermwatch_drivers.modbus.driver import CONTROLLER
from fermwatch_drivers.modbus.frames import Function, ModbusException, Read, Write
from fermwatch_drivers.modbus.line import Addressed, NoAnswer
from fermwatch_drivers.modbus.tcp import TcpWire
from tests.support.rogue import STEPS, TRICKS, Rogue, number_of

REGISTERS = 400
WORKERS = 20
TRANSACTIONS = 10_000
LIMIT_S = 0.05


@asynccontextmanager
async def _kept(wire: TcpWire) -> AsyncIterator[None]:
    """Open as long as this lasts, or until it ends by itself."""
    async with AsyncExitStack() as stack:
        with suppress(ProbeError):
            await stack.enter_async_context(wire.used())
        yield


async def test_no_wrong_value_is_read_and_no_wrong_write_confirmed_in_ten_thousand_transactions() -> None:
    rogue = Rogue(random.Random(5), registers=REGISTERS, late_s=1.2 * LIMIT_S)
    port = await rogue.start()
    steps: dict[int, count[int]] = {address: count(1) for address in range(REGISTERS)}
    seen: Counter[str] = Counter()
    excepted: set[int] = set()
    confirmed: list[tuple[int, tuple[int, ...]]] = []

    async def transact(wire: TcpWire, chance: random.Random) -> None:
        address, length = chance.randrange(REGISTERS - 4), chance.randint(1, 4)
        if chance.random() < 0.5:
            function = chance.choice([Function.HOLDING, Function.INPUT])
            question: Read | Write = Read(function, address, length)
        else:
            new = tuple(number_of(address + at, next(steps[address + at]) % STEPS) for at in range(length))
            question = Write(Function.HOLDING, address, new)
        async with wire.used() as line:
            words = await line.ask(Addressed(1, question), limit_s=LIMIT_S)
        if isinstance(question, Read):
            assert [word // STEPS for word in words] == list(range(address, address + length)), "each its own numbers"
            seen["read"] += 1
        else:
            confirmed.append((address, question.words))

    async def work(number: int) -> None:
        chance, wire = random.Random(number), TcpWire("127.0.0.1", port)
        for _ in range(TRANSACTIONS // WORKERS // 10):
            async with _kept(wire):  # ten over one connection, or over as many as it takes
                for _ in range(10):
                    try:
                        await transact(wire, chance)
                    except ModbusException as error:
                        seen["exception"] += 1
                        excepted.add(error.code)
                    except NoAnswer:
                        seen["no answer"] += 1
                    except ProbeMisbehaving:
                        seen["damaged"] += 1
                    except ProbeError:
                        seen["lost"] += 1

    try:
        await asyncio.gather(*(work(number) for number in range(WORKERS)))
    finally:
        await rogue.stop()
    applied = Counter(rogue.applied)
    assert all(applied[one] for one in confirmed), "what is called done was done, to that very register"
    assert excepted <= rogue.excepted
    assert set(rogue.tricks) == TRICKS | {"well"}
    assert sum(seen.values()) + len(confirmed) == TRANSACTIONS
    assert all(seen[kind] for kind in ("read", "exception", "no answer", "damaged", "lost"))
    assert confirmed


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
    options = CONTROLLER.options.model_validate({**said, "answer_limit_s": LIMIT_S})
    shown: dict[str, set[object]] = {"measured": set(), "set-point": set(), "on": set()}

    async def look(number: int) -> None:
        controller = CONTROLLER.create(f"fridge {number}", options, SystemClock(), Wires())
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
