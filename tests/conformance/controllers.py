"""For each controller that ships: an invented device at the far end of its wire, and how to mistreat the wire."""

import asyncio
import time
from pathlib import Path
from typing import Any, Protocol

from pydantic import BaseModel

from fermwatch.contracts.controller import ControllerKind
from fermwatch_drivers.modbus.driver import CONTROLLER as MODBUS_TCP
from fermwatch_sim.modbus import ModbusFace
from fermwatch_sim.virtual_controller import VirtualController


class ControllerBench(Protocol):
    """A controller's far end, which takes a set point, or leases of its outputs, by the mode of `device`."""

    device: VirtualController

    @property
    def kind(self) -> ControllerKind[Any]: ...
    def options(self) -> BaseModel: ...
    async def start(self) -> None: ...
    async def cut(self) -> None:
        """End the wire, as when somebody pulls it; `start` mends it."""

    async def close(self) -> None: ...


class ModbusTcpControllerBench:
    kind = MODBUS_TCP

    def __init__(self, _directory: Path) -> None:
        self.device = VirtualController()
        self.face = ModbusFace(self.device, time.monotonic)

    def options(self) -> BaseModel:
        return self.read_options

    async def start(self) -> None:
        await self.face.start()
        said = {"host": "127.0.0.1", "port": self.face.port, "map": "worked-example", "every_s": 0.1}
        self.read_options = await asyncio.to_thread(self.kind.options.model_validate, said)

    async def cut(self) -> None:
        await self.face.stop()

    async def close(self) -> None:
        await self.face.stop()


CONTROLLER_BENCHES: dict[str, type[ModbusTcpControllerBench]] = {"modbus-tcp": ModbusTcpControllerBench}
