"""What the entry points of controllers on a serial line register."""

from dataclasses import dataclass

from fermwatch.clock import Clock
from fermwatch.contracts.controller import CONTRACT_VERSION
from fermwatch.contracts.wire import Wires
from fermwatch_drivers.read_source import ReadKind
from fermwatch_drivers.serial_line.controller import SerialController
from fermwatch_drivers.serial_line.controller_options import SerialControllerOptions
from fermwatch_drivers.serial_line.wire import serial_wire


@dataclass(frozen=True, slots=True)
class SerialControllerKind:
    """See `fermwatch.contracts.controller.ControllerKind`."""

    contract_version: int = CONTRACT_VERSION
    options: type[SerialControllerOptions] = SerialControllerOptions

    def create(self, name: str, options: SerialControllerOptions, clock: Clock, wires: Wires) -> SerialController:
        """Raises ConfigError where others want the same port otherwise."""
        return SerialController(options, serial_wire(name, options, clock, wires), clock)


CONTROLLER = SerialControllerKind()
DRIVER = ReadKind(CONTROLLER, no_secrets="exempt: a serial port has none")
