"""The serial line driver: a port, the lines that come in on it, and what they say."""

import contextlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import serial

from fermwatch.clock import Clock
from fermwatch.contracts.driver import CONTRACT_VERSION, Intake
from fermwatch.errors import ProbeUnavailable
from fermwatch.text import clean
from fermwatch_drivers.blocking import in_thread
from fermwatch_drivers.hearing import Heard
from fermwatch_drivers.serial_line.formats import LineReader, reader_for
from fermwatch_drivers.serial_line.framer import LineFramer
from fermwatch_drivers.serial_line.options import SerialLineOptions
from fermwatch_drivers.serial_line.port import PORT_ERRORS, explain_loss, open_port
from fermwatch_drivers.serial_line.stream import ByteStream

OPENING_LIMIT_S = 10.0
_CHUNK = 4096  # bytes per turn of the event loop: a few milliseconds of work at the very worst


class SerialLineDriver:
    """One serial port. Never writes to it."""

    def __init__(self, name: str, options: SerialLineOptions, channels: Sequence[str], clock: Clock) -> None:
        reader_for(name, options, channels)  # a name that cannot be meant is said now
        self._name, self._options, self._channels, self._clock = name, options, tuple(channels), clock

    async def run(self, intake: Intake) -> None:
        """See `fermwatch.contracts.driver.Driver`."""
        options = self._options
        try:
            port = await in_thread(
                lambda: open_port(options), name=f"open {options.port}", limit_s=OPENING_LIMIT_S, discard=_close
            )
        except TimeoutError:
            raise ProbeUnavailable(
                f"{clean(options.port)} did not open within {OPENING_LIMIT_S:g} s.", hint="Unplug it and plug it in."
            ) from None
        try:
            intake.connected(f"{clean(options.port)} at {options.baud} baud")
            await self._listen(port.fileno(), reader_for(self._name, options, self._channels), intake)
        finally:
            _close(port)

    async def _listen(self, descriptor: int, reader: LineReader, intake: Intake) -> None:
        stream = ByteStream(descriptor, _CHUNK, self._options.silence_timeout_s or None)
        framer = LineFramer()
        greeting_until_s = self._clock.monotonic_s() + self._options.settle_s
        try:
            while True:
                lines, overlong = framer.feed(await self._next(stream))
                if self._clock.monotonic_s() < greeting_until_s:
                    continue
                heard = Heard()
                received_at = self._clock.now()
                if overlong:
                    heard.reject("a line without an end", count=overlong)
                for line in lines:
                    reader.read(line, received_at, heard)
                if heard:
                    await intake.deliver(heard.delivery())
        finally:
            stream.close()

    async def _next(self, stream: ByteStream) -> bytes:
        """The next bytes. Raises ProbeUnavailable when the port is gone or has been silent for too long."""
        port = self._options.port
        try:
            chunk = await stream.read()
        except TimeoutError:
            raise ProbeUnavailable(
                f"Not a byte from {clean(port)} for {self._options.silence_timeout_s:g} s.",
                hint="Is the board powered and sending, at this baud rate? silence_timeout_s sets the limit.",
            ) from None
        except PORT_ERRORS as error:
            raise explain_loss(error, port) from error
        if not chunk:
            raise explain_loss(None, port)
        return chunk


def _close(port: serial.Serial) -> None:
    with contextlib.suppress(*PORT_ERRORS):  # what is unplugged cannot be closed in style, and is gone all the same
        port.close()


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

    def create(self, name: str, options: SerialLineOptions, channels: Sequence[str], clock: Clock) -> SerialLineDriver:
        """See `fermwatch.contracts.driver.DriverKind`. Raises ConfigError."""
        return SerialLineDriver(name, options, channels, clock)


DRIVER = SerialLineKind()
