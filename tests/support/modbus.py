"""A Modbus device that is not of our making: pymodbus's own server over a table of registers."""

import asyncio
import threading
from collections.abc import Callable, Coroutine, Iterator
from contextlib import contextmanager
from typing import Any, Protocol

from pymodbus.constants import ExcCodes
from pymodbus.server import ModbusBaseServer, ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from fermwatch_drivers.modbus.frames import Function

_CODES = {Function.COIL: 1, Function.DISCRETE: 2, Function.HOLDING: 3, Function.INPUT: 4}
TABLE = 64  # registers, or bits, of each kind that the device has, from address 0

Spoil = Callable[[bytes], bytes]


class ModbusPeer:
    """Listens on one port, which stays the same over its stops and starts. Its tables live as long as it does.

    line: the path of a serial port to speak RTU on, instead of TCP.

    spoil: what becomes of the next answer on the wire, once. bend: what is stored of a word, given the one before.
    excepting: what it answers to a write instead of doing it. asked: function code, address and written values of all.
    """

    def __init__(self, device_id: int = 1, line: str = "") -> None:
        self.device_id, self.line = device_id, line
        self.port = 0
        self.spoil: Spoil | None = None
        self.excepting: ExcCodes | None = None
        self.bend: Callable[[int, int], int] | None = None
        self.asked: list[tuple[int, int, tuple[int, ...] | None]] = []
        self._set: dict[tuple[Function, int], int] = {}
        self._server: ModbusBaseServer | None = None

    async def start(self) -> None:
        device = SimDevice(self.device_id, _tables(), action=self._act)
        if self.line:
            self._server = ModbusSerialServer(device, port=self.line, baudrate=9600, trace_packet=self._trace)
        else:
            self._server = ModbusTcpServer(device, address=("127.0.0.1", self.port), trace_packet=self._trace)
        await self._server.serve_forever(background=True)
        listening: Any = self._server.transport
        self.port = 0 if self.line else listening.sockets[0].getsockname()[1]
        for (function, address), word in self._set.items():
            await self._write(function, address, word)

    async def stop(self) -> None:
        if self._server is not None:
            await self._server.shutdown()  # type: ignore[no-untyped-call]
            self._server = None

    async def set(self, function: Function, address: int, word: int) -> None:
        self._set[function, address] = word & 0xFFFF
        await self._write(function, address, word & 0xFFFF)

    async def holding(self, address: int) -> int:
        assert self._server is not None
        return int((await self._server.async_getValues(self.device_id, 3, address, 1))[0])

    @property
    def writes(self) -> list[tuple[int, tuple[int, ...]]]:
        """The address and the values of each write that it was asked for."""
        return [(address, values) for _, address, values in self.asked if values is not None]

    async def _write(self, function: Function, address: int, word: int) -> None:
        assert self._server is not None
        excepting, self.excepting, bend, self.bend = self.excepting, None, self.bend, None
        asked = len(self.asked)
        values: Any = [bool(word)] if function.is_bits else [word]
        await self._server.async_setValues(self.device_id, _CODES[function], address, values)
        del self.asked[asked:]
        self.excepting, self.bend = excepting, bend

    async def _act(
        self,
        code: int,
        start: int,
        address: int,
        _count: int,
        registers: list[int],
        values: list[int] | list[bool] | None,
    ) -> ExcCodes | None:
        self.asked.append((code, address, None if values is None else tuple(int(value) for value in values)))
        if self.bend is not None and values is not None and code in {6, 16}:
            before = registers[address - start :]
            bent: Any = [self.bend(int(word), before[at]) for at, word in enumerate(values)]
            values[:] = bent
        return None if values is None else self.excepting

    def _trace(self, sending: bool, data: bytes) -> bytes:
        if not sending or self.spoil is None:
            return data
        spoil, self.spoil = self.spoil, None
        return spoil(data)


def _tables() -> tuple[list[SimData], list[SimData], list[SimData], list[SimData]]:
    def bits() -> list[SimData]:
        return [SimData(0, values=[False] * TABLE, datatype=DataType.BITS)]

    def registers() -> list[SimData]:
        return [SimData(0, count=TABLE, values=0, datatype=DataType.REGISTERS)]

    return bits(), bits(), registers(), registers()


async def until_spoiled(peer: ModbusPeer, spoil: Spoil) -> None:
    """Have one answer spoilt, and wait until it was sent."""
    peer.spoil = spoil
    while peer.spoil is spoil:  # noqa: ASYNC110 - nobody sets an event
        await asyncio.sleep(0.002)


class Served(Protocol):
    async def start(self) -> None: ...
    async def stop(self) -> None: ...


@contextmanager
def serving(peer: Served) -> Iterator[Callable[[Coroutine[Any, Any, object]], None]]:
    """A peer in a thread of its own, for tests of other processes; gives what runs something there."""
    loop = asyncio.new_event_loop()
    thread = threading.Thread(target=loop.run_forever, name="modbus peer")
    thread.start()

    def run(what: Coroutine[Any, Any, object]) -> None:
        asyncio.run_coroutine_threadsafe(what, loop).result(20)

    try:
        run(peer.start())
        yield run
    finally:
        run(peer.stop())
        run(asyncio.sleep(0.05))  # for its connections to be closed
        loop.call_soon_threadsafe(loop.stop)
        thread.join()
        loop.close()
