"""The invented controller on a network or a serial line, by the protocol's library: as any client meets it."""

from collections.abc import Callable
from types import TracebackType
from typing import Any, Self

from pymodbus.constants import ExcCodes
from pymodbus.server import ModbusBaseServer, ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from fermwatch_sim.virtual_controller import SET_POINT_AT, WISH_AT, VirtualController

_READ_DISCRETE, _READ_HOLDING, _READ_INPUT = 2, 3, 4  # function codes
_WRITES = {6, 16}  # of one holding register, and of several
_BITS = 16  # as many as the library keeps together


class ModbusFace:
    """Listens on one port of this machine, the same over its stops and starts; an asynchronous context manager.

    clock_s: seconds, never set; the dead-man goes by them. port: 0 chooses one, which is known once it has started.
    """

    def __init__(
        self, controller: VirtualController, clock_s: Callable[[], float], *, port: int = 0, device_id: int = 1
    ) -> None:
        self.controller, self.port = controller, port
        self._clock_s, self._device_id = clock_s, device_id
        self._server: ModbusBaseServer | None = None

    async def start(self) -> None:
        """Raises RuntimeError where the port is taken."""
        self._server = ModbusTcpServer(self._device(), address=("127.0.0.1", self.port))
        await self._server.serve_forever(background=True)
        listening: Any = self._server.transport
        self.port = listening.sockets[0].getsockname()[1]

    async def stop(self) -> None:
        if self._server is not None:
            await self._server.shutdown()  # type: ignore[no-untyped-call]
            self._server = None

    async def __aenter__(self) -> Self:
        await self.start()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self.stop()

    def _device(self) -> SimDevice:
        return SimDevice(self._device_id, _tables(), action=self._act)

    async def _act(
        self,
        code: int,
        start: int,
        address: int,
        _count: int,
        registers: list[int],
        values: list[int] | list[bool] | None,
    ) -> ExcCodes | None:
        """Before the library answers: have the device do what is written, and put what it shows where it is read."""
        now_s = self._clock_s()
        if values is not None:
            if code not in _WRITES:
                return ExcCodes.ILLEGAL_FUNCTION
            complaint = self.controller.write(address, [int(value) for value in values], now_s)
            return None if complaint is None else ExcCodes(complaint)
        if code == _READ_DISCRETE:
            registers[0] = sum(bit << at for at, bit in enumerate(self.controller.discrete_inputs(now_s)))
        elif code == _READ_INPUT:
            shown = self.controller.input_registers(now_s)
            registers[: len(shown)] = shown
        elif code == _READ_HOLDING:
            for at, word in self.controller.holding_registers().items():
                registers[at - start] = word
        return None


class ModbusLineFace(ModbusFace):
    """The same on a serial port, which has a path and a speed in place of a number."""

    def __init__(
        self,
        controller: VirtualController,
        clock_s: Callable[[], float],
        path: str,
        *,
        baud: int = 9600,
        device_id: int = 1,
    ) -> None:
        super().__init__(controller, clock_s, device_id=device_id)
        self._path, self._baud = path, baud

    async def start(self) -> None:
        """Raises RuntimeError where the port cannot be opened."""
        self._server = ModbusSerialServer(self._device(), port=self._path, baudrate=self._baud, reconnect_delay=0)
        await self._server.serve_forever(background=True)


def _tables() -> tuple[list[SimData], list[SimData], list[SimData], list[SimData]]:
    """What it has; the library wants a table of coils too, and no write to one does anything."""
    coils = [SimData(0, values=[False] * _BITS, datatype=DataType.BITS)]
    discrete = [SimData(0, values=[False] * _BITS, datatype=DataType.BITS)]
    holding = [
        SimData(SET_POINT_AT, values=0, datatype=DataType.REGISTERS),
        SimData(WISH_AT, count=2, values=0, datatype=DataType.REGISTERS),
    ]
    return coils, discrete, holding, [SimData(0, count=3, values=0, datatype=DataType.REGISTERS)]
