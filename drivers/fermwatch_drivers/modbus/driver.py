"""Modbus controllers over TCP and on a serial line, each as a controller and as a source of readings."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

from fermwatch.clock import Clock
from fermwatch.contracts.controller import CONTRACT_VERSION
from fermwatch.contracts.wire import Wires
from fermwatch_drivers.modbus.controller import ModbusController
from fermwatch_drivers.modbus.line import ModbusWire
from fermwatch_drivers.modbus.options import ModbusOptions, ModbusRtuOptions, ModbusTcpOptions
from fermwatch_drivers.modbus.rtu import rtu_wire
from fermwatch_drivers.modbus.tcp import tcp_wire
from fermwatch_drivers.read_source import ReadKind

ModbusOptionsT = TypeVar("ModbusOptionsT", bound=ModbusOptions)


@dataclass(frozen=True, slots=True)
class ModbusControllerKind(Generic[ModbusOptionsT]):
    """What the entry point of a controller registers."""

    options: type[ModbusOptionsT]
    wire: Callable[[str, ModbusOptionsT, Clock, Wires], ModbusWire]
    contract_version: int = CONTRACT_VERSION

    def create(self, name: str, options: ModbusOptionsT, clock: Clock, wires: Wires) -> ModbusController:
        """See `fermwatch.contracts.controller.ControllerKind`. Raises ConfigError."""
        return ModbusController(options, self.wire(name, options, clock, wires), clock)


_NO_SECRETS = "exempt: Modbus has none"
TCP_CONTROLLER = ModbusControllerKind(ModbusTcpOptions, tcp_wire)
RTU_CONTROLLER = ModbusControllerKind(ModbusRtuOptions, rtu_wire)
TCP_DRIVER = ReadKind(TCP_CONTROLLER, _NO_SECRETS)
RTU_DRIVER = ReadKind(RTU_CONTROLLER, _NO_SECRETS)
