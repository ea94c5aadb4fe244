"""Modbus controllers over TCP and on a serial line, each as a controller and as a source of readings."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from fermwatch.clock import Clock
from fermwatch.contracts import controller as controllers
from fermwatch.contracts.driver import CONTRACT_VERSION
from fermwatch.contracts.wire import Wires
from fermwatch_drivers.modbus.controller import ModbusController
from fermwatch_drivers.modbus.line import ModbusWire
from fermwatch_drivers.modbus.options import ModbusOptions, ModbusRtuOptions, ModbusTcpOptions
from fermwatch_drivers.modbus.rtu import rtu_wire
from fermwatch_drivers.modbus.tcp import tcp_wire
from fermwatch_drivers.read_source import ReadSource

ModbusOptionsT = TypeVar("ModbusOptionsT", bound=ModbusOptions)

_QUALITY = {
    "stable-channel-names": "done",
    "tested-before-start": "done",
    "damaged-frames-survived": "done",
    "cancels-within-a-second": "done",
    "unavailable-is-not-unknown": "done",
    "one-line-per-loss": "done",
    "explicit-concurrency": "done",
    "no-secrets-shown": "exempt: Modbus has none",
    "real-hardware-captures": "exempt: only pymodbus's server and our own peers were at hand",
    "limits-documented": "done",
    "strict-types": "done",
    "asynchronous": "done",
}


@dataclass(frozen=True, slots=True)
class ModbusControllerKind(Generic[ModbusOptionsT]):
    """What the entry point of a controller registers."""

    options: type[ModbusOptionsT]
    wire: Callable[[str, ModbusOptionsT, Clock, Wires], ModbusWire]
    contract_version: int = controllers.CONTRACT_VERSION

    def create(self, name: str, options: ModbusOptionsT, clock: Clock, wires: Wires) -> ModbusController:
        """See `fermwatch.contracts.controller.ControllerKind`. Raises ConfigError."""
        return ModbusController(options, self.wire(name, options, clock, wires), clock)


@dataclass(frozen=True, slots=True)
class ModbusKind(Generic[ModbusOptionsT]):
    """What the entry point of a driver registers."""

    controllers: ModbusControllerKind[ModbusOptionsT]
    contract_version: int = CONTRACT_VERSION
    quality: Mapping[str, str] = field(default_factory=lambda: _QUALITY)

    @property
    def options(self) -> type[ModbusOptionsT]:
        return self.controllers.options

    def create(
        self, name: str, options: ModbusOptionsT, channels: Sequence[str], clock: Clock, wires: Wires
    ) -> ReadSource:
        """See `fermwatch.contracts.driver.DriverKind`. Raises ConfigError."""
        controller = self.controllers.create(name, options, clock, wires)
        return ReadSource(name, controller, channels, options.register_map.channels)


TCP_CONTROLLER = ModbusControllerKind(ModbusTcpOptions, tcp_wire)
RTU_CONTROLLER = ModbusControllerKind(ModbusRtuOptions, rtu_wire)
TCP_DRIVER = ModbusKind(TCP_CONTROLLER)
RTU_DRIVER = ModbusKind(RTU_CONTROLLER)
