"""For each driver that ships: how to give it a working wire, and how to mistreat it."""

import asyncio
import os
import time
from pathlib import Path
from typing import Any, Protocol

from pydantic import BaseModel

from fermwatch.contracts.driver import DriverKind
from fermwatch_drivers.modbus.driver import RTU_DRIVER as MODBUS_RTU
from fermwatch_drivers.modbus.driver import TCP_DRIVER as MODBUS_TCP
from fermwatch_drivers.modbus.frames import Function
from fermwatch_drivers.mqtt.controller import DRIVER as MQTT_CONTROLLER
from fermwatch_drivers.mqtt.driver import DRIVER as MQTT
from fermwatch_drivers.one_wire.driver import DRIVER as ONE_WIRE
from fermwatch_drivers.serial_line.controller_kind import DRIVER as SERIAL_CONTROLLER
from fermwatch_drivers.serial_line.driver import DRIVER as SERIAL_LINE
from fermwatch_sim.mqtt_face import MqttFace
from fermwatch_sim.one_wire import OneWireBus, scratchpad, shown
from fermwatch_sim.virtual_controller import VirtualController
from tests.conformance.wires import Board
from tests.support.broker import Broker
from tests.support.modbus import ModbusPeer, until_spoiled
from tests.support.null_modem import NullModem


class Bench(Protocol):
    """A driver's far end. The first of `channels` says what `say` is given."""

    @property
    def kind(self) -> DriverKind[Any]: ...
    @property
    def channels(self) -> tuple[str, ...]: ...
    @property
    def good(self) -> bytes:
        """A frame that says 19.5."""

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
    good = b"t=19.5"

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
    good = b"19.5"

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


# The measured value and the set point are two questions, so that one answer can be damaged and the other one not.
MAP = """
title = "a bench"
[measured]
function = "input"
address = 0
scale = 0.01
low = -40
high = 100
broken = [32767]
[set-point]
function = "holding"
address = 0
scale = 0.1
low = -10
high = 40
"""


class ModbusTcpBench:
    """A controller whose probe is broken until somebody says a temperature, on pymodbus's own server."""

    kind = MODBUS_TCP
    channels = ("measured",)
    good = b"\x04\x02\x07\x9e"  # the answer's function, its length and 1950

    def __init__(self, directory: Path) -> None:
        self.peer = ModbusPeer()
        self.map_file = directory / "map.toml"

    def options(self) -> BaseModel:
        return self.read_options

    async def start(self) -> None:
        await self.peer.start()
        self.read_options = await asyncio.to_thread(self._read_options)  # with a file, as a configuration is read
        await self.peer.set(Function.INPUT, 0, 32767)
        await self.peer.set(Function.HOLDING, 0, 180)

    def _read_options(self) -> BaseModel:
        self.map_file.write_text(MAP)
        return self.kind.options(host="127.0.0.1", port=self.peer.port, map_file=self.map_file, every_s=0.1)

    async def say(self, value: float) -> None:
        await self.peer.set(Function.INPUT, 0, round(value * 100))

    async def damage(self, frame: bytes) -> None:
        """In place of an answer, and with its header: a damaged one ends the connection."""
        await until_spoiled(self.peer, lambda sent: sent[:4] + (len(frame) + 1).to_bytes(2, "big") + b"\x01" + frame)

    async def cut(self) -> None:
        await self.peer.stop()

    async def close(self) -> None:
        await self.peer.stop()


class ModbusRtuBench:
    """The same on a serial line."""

    kind = MODBUS_RTU
    channels = ("measured",)
    good = b"\x01\x04\x02\x07\x9e\x3a\xa8"  # the whole answer, with its checksum, to be damaged

    def __init__(self, directory: Path) -> None:
        self.modem = NullModem(directory / "line")
        self.peer = ModbusPeer(line=self.modem.there)
        self.map_file = directory / "map.toml"
        self.is_served = False

    def options(self) -> BaseModel:
        return self.read_options

    async def start(self) -> None:
        self.modem.plug_in()
        self.read_options = await asyncio.to_thread(self._read_options)
        if not self.is_served:
            await self.peer.start()
            self.is_served = True
        await self.peer.set(Function.INPUT, 0, 32767)
        await self.peer.set(Function.HOLDING, 0, 180)

    def _read_options(self) -> BaseModel:
        self.map_file.write_text(MAP)
        said = {"port": str(self.modem.here), "map_file": self.map_file, "every_s": 0.1}
        return self.kind.options.model_validate({**said, "drain_s": 0.05, "answer_limit_s": 0.2})

    async def say(self, value: float) -> None:
        await self.peer.set(Function.INPUT, 0, round(value * 100))

    async def damage(self, frame: bytes) -> None:
        await until_spoiled(self.peer, lambda _: frame)
        spoilt = len(self.peer.asked)
        while len(self.peer.asked) < spoilt + 2:  # noqa: ASYNC110 - whose every answer is damaged is lost
            await asyncio.sleep(0.005)

    async def cut(self) -> None:
        self.modem.unplug()

    async def close(self) -> None:
        await self.peer.stop()
        self.modem.close()


class SerialControllerDriverBench:
    """A board that is asked by lines; its answers are damaged by what it says in between."""

    kind = SERIAL_CONTROLLER
    channels = ("measured",)
    good = b"t=19.5 sp=18"

    def __init__(self, directory: Path) -> None:
        self.board = Board(directory / "board")
        self.said = "nan"

    def options(self) -> BaseModel:
        templates = {"ask": "read", "state": "t={measured} sp={set-point}", "broken": ("nan",)}
        return self.kind.options.model_validate(
            {"port": str(self.board.link), "settle_s": 0, "every_s": 0.1, "answer_limit_s": 0.2, **templates}
        )

    async def start(self) -> None:
        self.board.plug_in()
        asyncio.get_running_loop().add_reader(self.board.end, self._hear, self.board.end)

    def _hear(self, end: int) -> None:
        try:
            asked = os.read(end, 512).count(b"read")
        except OSError:  # nobody has the port open
            asyncio.get_running_loop().remove_reader(end)
            asyncio.get_running_loop().call_later(0.01, self._again, end)
            return
        for _ in range(asked):
            os.write(end, f"t={self.said} sp=18\n".encode())

    def _again(self, end: int) -> None:
        if self.board.is_plugged_in and self.board.end == end:
            asyncio.get_running_loop().add_reader(end, self._hear, end)

    async def say(self, value: float) -> None:
        self.said = f"{value:g}"

    async def damage(self, frame: bytes) -> None:
        await self.board.write(frame + b"\n")

    async def cut(self) -> None:
        if self.board.is_plugged_in:
            asyncio.get_running_loop().remove_reader(self.board.end)
        self.board.unplug()

    async def close(self) -> None:
        await self.cut()


class MqttControllerDriverBench:
    """A controller that says its measured value by itself, as a plain number."""

    kind = MQTT_CONTROLLER
    channels = ("measured",)
    good = b"19.5"

    def __init__(self, directory: Path) -> None:
        self.broker = Broker(directory / "broker")
        self.said, self.damaged = "nan", list[bytes]()
        self.face = MqttFace(
            VirtualController(), time.monotonic, self.broker.port, says_itself_s=0.02, bend=self._to_be_said
        )

    def _to_be_said(self, _state: str) -> str | bytes:
        return self.damaged.pop() if self.damaged else self.said

    def options(self) -> BaseModel:
        said = {"host": "127.0.0.1", "port": self.broker.port, "measured": "cellar/fridge/state", "every_s": 0.2}
        return self.kind.options.model_validate({**said, "broken": ("nan",)})

    async def start(self) -> None:
        await asyncio.to_thread(self.broker.start)
        await self.face.stop()
        await self.face.start()

    async def say(self, value: float) -> None:
        self.said = f"{value:g}"

    async def damage(self, frame: bytes) -> None:
        self.damaged.append(frame)
        while self.damaged:  # noqa: ASYNC110 - it says it when it speaks next
            await asyncio.sleep(0.005)

    async def cut(self) -> None:
        await asyncio.to_thread(self.broker.kill)

    async def close(self) -> None:
        await self.face.stop()
        await asyncio.to_thread(self.broker.kill)


class OneWireBench:
    """A thermometer that has not measured yet, until somebody says a temperature."""

    kind = ONE_WIRE
    channels = ("28-0316a2794d31",)
    good = shown(scratchpad(312)).encode()

    def __init__(self, directory: Path) -> None:
        self.bus = OneWireBus(directory / "bus")

    def options(self) -> BaseModel:
        return self.kind.options(directory=self.bus.devices, every_s=0.02, answer_limit_s=1.0)

    async def start(self) -> None:
        def plug_in() -> None:
            self.bus.plug_in()
            self.bus.shows(self.channels[0], shown(scratchpad(1360, reserved=0x0C)))

        await asyncio.to_thread(plug_in)

    async def say(self, value: float) -> None:
        await asyncio.to_thread(self.bus.measures, self.channels[0], value)

    async def damage(self, frame: bytes) -> None:
        await asyncio.to_thread(self.bus.shows, self.channels[0], frame)
        await asyncio.sleep(0.05)

    async def cut(self) -> None:
        await asyncio.to_thread(self.bus.unplug)

    async def close(self) -> None:
        """Files alone."""


BENCHES: dict[
    str,
    type[OneWireBench]
    | type[SerialLineBench]
    | type[MqttBench]
    | type[ModbusTcpBench]
    | type[ModbusRtuBench]
    | type[SerialControllerDriverBench]
    | type[MqttControllerDriverBench],
] = {
    "one-wire": OneWireBench,
    "serial-line": SerialLineBench,
    "mqtt": MqttBench,
    "modbus-tcp": ModbusTcpBench,
    "modbus-rtu": ModbusRtuBench,
    "serial-controller": SerialControllerDriverBench,
    "mqtt-controller": MqttControllerDriverBench,
}
