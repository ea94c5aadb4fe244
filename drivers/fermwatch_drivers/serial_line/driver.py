"""The serial line driver: a port, the lines that come in on it, and what they say."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from fermwatch.clock import Clock
from fermwatch.contracts.driver import CONTRACT_VERSION, Listener
from fermwatch.contracts.wire import Wires
from fermwatch.text import clean
from fermwatch_drivers.hearing import Heard
from fermwatch_drivers.serial_line.formats import reader_for
from fermwatch_drivers.serial_line.options import SerialLineOptions
from fermwatch_drivers.serial_line.wire import SerialWire, serial_wire


class SerialLineDriver:
    """What one source hears on a serial port. Never writes to it."""

    def __init__(self, name: str, options: SerialLineOptions, channels: Sequence[str], wire: SerialWire) -> None:
        reader_for(name, options, channels)  # a name that cannot be meant is said now
        self._name, self._options, self._channels, self._wire = name, options, tuple(channels), wire

    async def run(self, listener: Listener) -> None:
        """See `fermwatch.contracts.driver.Driver`."""
        reader = reader_for(self._name, self._options, self._channels)
        async with self._wire.used() as line:
            with line.listened() as ear:
                listener.connected(f"{clean(self._options.port)} at {self._options.baud} baud")
                while True:
                    lines = await ear.next()
                    if lines.since_opening_s < self._options.settle_s:
                        continue
                    heard = Heard()
                    if lines.overlong:
                        heard.reject("a line without an end", count=lines.overlong)
                    for whole in lines.whole:
                        reader.read(whole, lines.received_at, heard)
                    if heard:
                        await listener.deliver(heard.delivery())


@dataclass(frozen=True, slots=True)
class SerialLineKind:
    """What the entry point registers."""

    contract_version: int = CONTRACT_VERSION
    options: type[SerialLineOptions] = SerialLineOptions
    quality: Mapping[str, str] = field(
        default_factory=lambda: {
            "stable-channel-names": "done",
            "tested-before-start": "done",
            "damaged-frames-survived": "done",
            "cancels-within-a-second": "done",
            "unavailable-is-not-unknown": "done",
            "one-line-per-loss": "done",
            "explicit-concurrency": "done",
            "no-secrets-shown": "exempt: a serial port has none",
            "real-hardware-captures": "exempt: only pseudo-terminals were at hand",
            "limits-documented": "done",
            "strict-types": "done",
            "asynchronous": "done",
        }
    )

    def create(
        self, name: str, options: SerialLineOptions, channels: Sequence[str], clock: Clock, wires: Wires
    ) -> SerialLineDriver:
        """See `fermwatch.contracts.driver.DriverKind`. Raises ConfigError."""
        return SerialLineDriver(name, options, channels, serial_wire(name, options, clock, wires))


DRIVER = SerialLineKind()
