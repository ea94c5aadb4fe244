"""Modbus controllers, each as a controller and as a source of readings."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from fermwatch.clock import Clock
from fermwatch.contracts import controller as controllers
from fermwatch.contracts.driver import CONTRACT_VERSION
from fermwatch.contracts.wire import Wires
from fermwatch_drivers.modbus.controller import ModbusController
from fermwatch_drivers.modbus.options import ModbusTcpOptions
from fermwatch_drivers.modbus.tcp import tcp_wire
from fermwatch_drivers.read_source import ReadSource


@dataclass(frozen=True, slots=True)
class ModbusTcpKind:
    """What the entry point registers."""

    contract_version: int = CONTRACT_VERSION
    options: type[ModbusTcpOptions] = ModbusTcpOptions
    quality: Mapping[str, str] = field(
        default_factory=lambda: {
            "stable-channel-names": "done",
            "tested-before-start": "done",
            "damaged-frames-survived": "done",
            "cancels-within-a-second": "done",
            "unavailable-is-not-unknown": "done",
            "one-line-per-loss": "done",
            "explicit-concurrency": "done",
            "no-secrets-shown": "exempt: Modbus TCP has none",
            "real-hardware-captures": "exempt: only pymodbus's server and our own peers were at hand",
            "limits-documented": "done",
            "strict-types": "done",
            "asynchronous": "done",
        }
    )

    def create(
        self, name: str, options: ModbusTcpOptions, channels: Sequence[str], clock: Clock, wires: Wires
    ) -> ReadSource:
        """See `fermwatch.contracts.driver.DriverKind`. Raises ConfigError."""
        controller = CONTROLLER.create(name, options, clock, wires)
        return ReadSource(name, controller, channels, options.register_map.channels)


@dataclass(frozen=True, slots=True)
class ModbusTcpControllerKind:
    """What the entry point of controllers registers."""

    contract_version: int = controllers.CONTRACT_VERSION
    options: type[ModbusTcpOptions] = ModbusTcpOptions

    def create(self, name: str, options: ModbusTcpOptions, clock: Clock, wires: Wires) -> ModbusController:
        """See `fermwatch.contracts.controller.ControllerKind`."""
        return ModbusController(options, tcp_wire(name, options, wires), clock)


CONTROLLER = ModbusTcpControllerKind()
DRIVER = ModbusTcpKind()
