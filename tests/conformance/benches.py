"""For each driver that ships: how to give it a working wire, and how to mistreat it."""

import asyncio
from pathlib import Path
from typing import Any, Protocol

from pydantic import BaseModel

from fermwatch.contracts.driver import DriverKind
from fermwatch_drivers.mqtt.driver import DRIVER as MQTT
from fermwatch_drivers.serial_line.driver import DRIVER as SERIAL_LINE
from tests.conformance.wires import Board
from tests.support.broker import Broker


class Bench(Protocol):
    """A driver's far end. Channel "t" of `channels` says what `say` is given."""

    @property
    def kind(self) -> DriverKind[Any]: ...
    @property
    def channels(self) -> tuple[str, ...]: ...
    def options(self) -> BaseModel: ...
    async def start(self) -> None: ...
    async def say(self, value: float) -> None: ...
    async def damage(self, frame: bytes) -> None:
        """Put a damaged frame on the wire."""

    async def cut(self) -> None:
        """End the wire, as when somebody pulls it."""

    async def close(self) -> None: ...


class SerialLineBench:
    kind = SERIAL_LINE
    channels = ("t",)

    def __init__(self, directory: Path) -> None:
        self.board = Board(directory / "board")

    def options(self) -> BaseModel:
        return self.kind.options(port=str(self.board.link), format="pairs", settle_s=0)

    async def start(self) -> None:
        self.board.plug_in()

    async def say(self, value: float) -> None:
        await self.board.write(f"\nt={value}\n".encode())

    async def damage(self, frame: bytes) -> None:
        await self.board.write(frame + b"\n")

    async def cut(self) -> None:
        self.board.unplug()

    async def close(self) -> None:
        self.board.unplug()


class MqttBench:
    kind = MQTT
    channels = ("left/t",)

    def __init__(self, directory: Path) -> None:
        self.broker = Broker(directory / "broker")

    def options(self) -> BaseModel:
        return self.kind.options(host="127.0.0.1", port=self.broker.port, topic="cellar/{fermenter}/{what}")

    async def start(self) -> None:
        await asyncio.to_thread(self.broker.start)

    async def say(self, value: float) -> None:
        await asyncio.to_thread(self.broker.publish, "cellar/left/t", str(value))

    async def damage(self, frame: bytes) -> None:
        await asyncio.to_thread(self.broker.publish, "cellar/left/t", frame)

    async def cut(self) -> None:
        await asyncio.to_thread(self.broker.kill)

    async def close(self) -> None:
        await asyncio.to_thread(self.broker.kill)


BENCHES: dict[str, type[SerialLineBench] | type[MqttBench]] = {"serial-line": SerialLineBench, "mqtt": MqttBench}
