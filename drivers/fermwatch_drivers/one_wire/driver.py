"""The 1-Wire driver: every thermometer on the bus of this machine, by its own number, asked in turn."""

import asyncio
import os
import re
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field

from fermwatch.clock import Clock
from fermwatch.contracts.driver import CONTRACT_VERSION, Listener
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ConfigError, ProbeRefused, ProbeUnavailable
from fermwatch.model.quantity import Unit
from fermwatch.model.reading import RawReading
from fermwatch.text import clean
from fermwatch_drivers.blocking import in_thread
from fermwatch_drivers.hearing import Heard, Teaching
from fermwatch_drivers.one_wire.scratchpad import FAMILIES, NotMeasured, temperature_c

DEVICES = Path("/sys/bus/w1/devices")
LARGEST = 512  # bytes of what is shown of one
MOST_SENSORS = 64
_SENSOR = re.compile(r"([0-9a-f]{2})-[0-9a-f]{12}", re.ASCII)


class OneWireOptions(BaseModel):
    """The 1-Wire bus of this machine, and how often its thermometers are asked."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    directory: Path = Field(default=DEVICES, description="Where Linux shows what is on the bus; leave it as it is.")
    every_s: float = Field(
        default=15.0, gt=0, le=3600, description="Seconds from one round to the next; each thermometer takes about one."
    )
    answer_limit_s: float = Field(
        default=5.0, gt=0, le=60, description="Seconds after which a thermometer that does not answer is passed over."
    )


class OneWireDriver:
    """One source. What hangs in the system is left hanging, in a thread of its own, and not asked again until it is
    back: others are asked meanwhile."""

    def __init__(self, name: str, options: OneWireOptions, channels: Sequence[str], clock: Clock) -> None:
        for channel in channels:
            if _family(channel) is None:
                hint = "It is called as its directory under /sys/bus/w1/devices, as 28-0316a2794d31."
                raise ConfigError(f'"{clean(channel)}" names no thermometer.', key=name, hint=hint)
        self._options, self._channels, self._clock = options, tuple(channels), clock
        self._hanging: dict[str, threading.Event] = {}

    async def run(self, listener: Listener) -> None:
        """See `fermwatch.contracts.driver.Driver`."""
        teaching = Teaching(self._channels)
        known: int | None = None
        while True:
            begun_s = self._clock.monotonic_s()
            there = await self._there()
            if known is None:
                listener.connected(f"{len(there)} thermometer{'s' if len(there) != 1 else ''} on the bus")
            known = len(there)
            heard = await self._round(there, teaching)
            if heard:
                await listener.deliver(heard.delivery())
            spent_s = self._clock.monotonic_s() - begun_s
            await asyncio.sleep(max(self._options.every_s - spent_s, 0.0))

    async def _there(self) -> list[str]:
        """What is on the bus. ProbeUnavailable where there is no bus, or nothing on it."""
        place = self._options.directory
        try:
            names = await in_thread(
                partial(os.listdir, place), name="one-wire", limit_s=self._options.answer_limit_s, discard=_nothing
            )
        except TimeoutError:
            raise ProbeUnavailable(f"{place} does not answer.") from None
        except PermissionError:
            raise ProbeRefused(f"{place} may not be read.", hint="Check its mode.") from None
        except OSError:
            hint = "Load the kernel's modules for it (dtoverlay=w1-gpio on many boards) and restart the machine."
            raise ProbeUnavailable(f"There is no 1-Wire bus at {place}.", hint=hint) from None
        there = sorted(name for name in names if _family(name) is not None)[:MOST_SENSORS]
        if not there:
            hint = "See its three wires, and the resistor of 4.7 kΩ between data and supply."
            raise ProbeUnavailable("No thermometer is on the 1-Wire bus.", hint=hint)
        return there

    async def _round(self, there: Sequence[str], teaching: Teaching) -> Heard:
        heard = Heard()
        for channel in self._channels:
            if channel not in there:
                heard.reject("it is not on the bus", channel=channel)
        for sensor in there:
            if teaching.channel(sensor) is None:
                continue
            try:
                celsius = await self._asked(sensor)
            except NotMeasured as reason:
                heard.reject(str(reason), channel=sensor)
                continue
            teaching.heard(sensor)
            heard.readings.append(RawReading(sensor, celsius, self._clock.now(), unit=Unit.CELSIUS))
        return heard

    async def _asked(self, sensor: str) -> float:
        """NotMeasured where it does not answer, or not with a temperature."""
        hanging = self._hanging.get(sensor)
        if hanging is not None and not hanging.is_set():
            raise NotMeasured("it does not answer")
        done = self._hanging[sensor] = threading.Event()
        call = partial(_shown, self._options.directory / sensor / "w1_slave", done)
        try:
            text = await in_thread(
                call, name=f"one-wire {sensor}", limit_s=self._options.answer_limit_s, discard=_nothing
            )
        except TimeoutError:
            raise NotMeasured("it does not answer") from None
        except OSError as error:
            raise NotMeasured(f"it cannot be read: {error.strerror}") from None
        return temperature_c(_family(sensor) or 0, text)


def _shown(file: Path, done: threading.Event) -> str:
    """What the system shows of it, which measures meanwhile: most of a second."""
    try:
        descriptor = os.open(file, os.O_RDONLY | os.O_CLOEXEC)
        try:
            data = b""
            while len(data) < LARGEST and (more := os.read(descriptor, LARGEST - len(data))):
                data += more
        finally:
            os.close(descriptor)
    finally:
        done.set()
    return data.decode("ascii", "replace")


def _family(name: str) -> int | None:
    """Of a thermometer, by the first of its number; None for anything else on the bus."""
    match = _SENSOR.fullmatch(name)
    family = None if match is None else int(match[1], 16)
    return family if family in FAMILIES else None


def _nothing(_late: object) -> None:
    """What comes too late is of another time."""


@dataclass(frozen=True, slots=True)
class OneWireKind:
    """What the entry point registers."""

    contract_version: int = CONTRACT_VERSION
    options: type[OneWireOptions] = OneWireOptions
    quality: Mapping[str, str] = field(
        default_factory=lambda: {
            "stable-channel-names": "done",
            "tested-before-start": "done",
            "damaged-frames-survived": "done",
            "cancels-within-a-second": "done",
            "unavailable-is-not-unknown": "done",
            "one-line-per-loss": "done",
            "explicit-concurrency": "done",
            "no-secrets-shown": "exempt: a bus has none",
            "real-hardware-captures": "exempt: no bus was at hand; what the kernel's documentation shows is read",
            "limits-documented": "done",
            "strict-types": "done",
            "asynchronous": "done",
        }
    )

    def create(
        self, name: str, options: OneWireOptions, channels: Sequence[str], clock: Clock, wires: Wires
    ) -> OneWireDriver:
        """See `fermwatch.contracts.driver.DriverKind`. Raises ConfigError."""
        del wires  # the system itself serves all who ask
        return OneWireDriver(name, options, channels, clock)


DRIVER = OneWireKind()
