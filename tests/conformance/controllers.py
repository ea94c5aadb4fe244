"""For each controller that ships: an invented device at the far end of its wire, and how to mistreat the wire."""

import asyncio
import time
from pathlib import Path
from typing import Any, Protocol

from pydantic import BaseModel

from fermwatch.contracts.controller import ControllerKind
from fermwatch_drivers.modbus.driver import RTU_CONTROLLER as MODBUS_RTU
from fermwatch_drivers.modbus.driver import TCP_CONTROLLER as MODBUS_TCP
from fermwatch_drivers.mqtt.controller import CONTROLLER as MQTT
from fermwatch_drivers.serial_line.controller_kind import CONTROLLER as SERIAL
from fermwatch_sim import line_face, mqtt_face
from fermwatch_sim.modbus import ModbusFace, ModbusLineFace
from fermwatch_sim.virtual_controller import VirtualController
from tests.conformance.wires import Board
from tests.support.broker import Broker
from tests.support.null_modem import NullModem


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


class ModbusRtuControllerBench:
    kind = MODBUS_RTU

    def __init__(self, directory: Path) -> None:
        self.device = VirtualController()
        self.modem = NullModem(directory / "line")
        self.face = ModbusLineFace(self.device, time.monotonic, self.modem.there)
        self.is_served = False

    def options(self) -> BaseModel:
        return self.read_options

    async def start(self) -> None:
        self.modem.plug_in()
        if not self.is_served:
            await self.face.start()
            self.is_served = True
        said = {"port": str(self.modem.here), "map": "worked-example", "every_s": 0.1, "drain_s": 0.05}
        self.read_options = await asyncio.to_thread(self.kind.options.model_validate, said)

    async def cut(self) -> None:
        self.modem.unplug()

    async def close(self) -> None:
        await self.face.stop()
        self.modem.close()


# What a configuration says of the invented board.
BOARD = {
    "ask": line_face.ASK,
    "state": line_face.STATE,
    "alarms": ["probe-broken", "door-open", "outputs-dropped"],
    "broken": [line_face.BROKEN],
    "write": line_face.WRITE,
    "switch": line_face.SWITCH,
    "done": line_face.DONE,
    "refused": line_face.REFUSED,
    "set_point_low_c": -5.0,
    "set_point_high_c": 35.0,
    "memory_writes": 100_000,
    "longest_lease_s": 120,
    "every_s": 0.1,
    "settle_s": 0,
}


class SerialControllerBench:
    kind = SERIAL

    def __init__(self, directory: Path) -> None:
        self.device = VirtualController()
        self.board = Board(directory / "board")
        self.face = line_face.LineFace(self.device, time.monotonic)

    def options(self) -> BaseModel:
        return self.kind.options.model_validate({"port": str(self.board.link), **BOARD})

    async def start(self) -> None:
        self.board.plug_in()
        self.face.open(self.board.end)

    async def cut(self) -> None:
        self.face.close()
        self.board.unplug()

    async def close(self) -> None:
        await self.cut()


def on_a_broker(name: str = "cellar/fridge") -> dict[str, object]:
    """What a configuration says of the invented controller behind a broker."""
    state, orders = f"{name}/{mqtt_face.STATE}", f"{name}/{mqtt_face.ORDERS}"
    return {
        "host": "127.0.0.1",
        "measured": f"{state}#/beer",
        "set_point": f"{state}#/target",
        "cool": f"{state}#/cool",
        "heat": f"{state}#/heat",
        "echo": f"{state}#/last",
        "alarms": {
            "probe-broken": f"{state}#/alarms/probe",
            "door-open": f"{state}#/alarms/door",
            "outputs-dropped": f"{state}#/alarms/dropped",
        },
        "ask_topic": f"{name}/{mqtt_face.ASK}",
        "write_topic": orders,
        "write_payload": mqtt_face.WRITE,
        "switch_topic": orders,
        "switch_payload": mqtt_face.SWITCH,
        "set_point_low_c": -5.0,
        "set_point_high_c": 35.0,
        "memory_writes": 100_000,
        "longest_lease_s": 120,
        "every_s": 0.1,
    }


class MqttControllerBench:
    kind = MQTT

    def __init__(self, directory: Path) -> None:
        self.device = VirtualController()
        self.broker = Broker(directory / "broker")
        self.face = mqtt_face.MqttFace(self.device, time.monotonic, self.broker.port)

    def options(self) -> BaseModel:
        return self.kind.options.model_validate({**on_a_broker(), "port": self.broker.port})

    async def start(self) -> None:
        await asyncio.to_thread(self.broker.start)
        await self.face.stop()
        await self.face.start()

    async def cut(self) -> None:
        await asyncio.to_thread(self.broker.kill)

    async def close(self) -> None:
        await self.face.stop()
        await asyncio.to_thread(self.broker.kill)


CONTROLLER_BENCHES: dict[
    str,
    type[ModbusTcpControllerBench]
    | type[ModbusRtuControllerBench]
    | type[SerialControllerBench]
    | type[MqttControllerBench],
] = {
    "modbus-tcp": ModbusTcpControllerBench,
    "modbus-rtu": ModbusRtuControllerBench,
    "serial-controller": SerialControllerBench,
    "mqtt-controller": MqttControllerBench,
}
