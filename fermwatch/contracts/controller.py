"""What a temperature controller is to fermwatch, whether its plug-in ships with it or comes from a stranger.

A controller registers a `ControllerKind` under the entry-point group `fermwatch.controllers`. What it shows is a
reading like any other. A controller decides nothing: it carries out one request at a time and says what became of it.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, Protocol, TypeVar

from pydantic import BaseModel

from fermwatch.clock import Clock
from fermwatch.contracts.driver import Listener
from fermwatch.contracts.plug_in import Group
from fermwatch.contracts.wire import Wires
from fermwatch.model.degree import Output
from fermwatch.model.quantity import Unit
from fermwatch.model.reading import RawReading

OptionsT = TypeVar("OptionsT", bound=BaseModel)

CONTRACT_VERSION = 1


@dataclass(frozen=True, slots=True)
class DeadMan:
    """The device's own time after which it drops its outputs when nobody renews them.

    after_s: the time; where it is told with each request, the longest that the device takes. told: whether a request
    carries it; otherwise it is a setting of the device, which `Seen.dead_man_s` shows.
    """

    after_s: float
    told: bool

    def __post_init__(self) -> None:
        if not (math.isfinite(self.after_s) and self.after_s > 0.0):
            raise ValueError(f"a dead-man's time is finite and positive, not {self.after_s!r}")


@dataclass(frozen=True, slots=True)
class SetPointAbility:
    """That its set point can be written.

    low_c, high_c: what the device itself takes. step_c: to what it rounds. writes: how often its memory endures it;
    None only where the set point that is written is kept in no memory that wears out.
    """

    low_c: float
    high_c: float
    step_c: float
    writes: int | None

    def __post_init__(self) -> None:
        if not (math.isfinite(self.low_c) and math.isfinite(self.high_c) and self.low_c < self.high_c):
            raise ValueError(f"a set point's limits are finite and rise, not ({self.low_c!r}, {self.high_c!r})")
        if not (math.isfinite(self.step_c) and self.step_c > 0.0):
            raise ValueError(f"a set point's step is finite and positive, not {self.step_c!r}")
        if self.writes is not None and self.writes < 1:
            raise ValueError(f"a memory endures at least one write, not {self.writes!r}")


@dataclass(frozen=True, slots=True)
class Abilities:
    """What a configured controller can do. One without `set_point` and `outputs` is only read.

    outputs: those that fermwatch can switch. dead_man: of these outputs; None where the device has none.
    alarms: the names of the alarm bits that it shows.
    """

    set_point: SetPointAbility | None = None
    outputs: frozenset[Output] = frozenset()
    dead_man: DeadMan | None = None
    alarms: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Seen:
    """What one reading of the device showed. None, or absent from a set, is never a guess: None is "not known".

    at: when it was received. measured_c: None too where the device says that its probe is broken. on: the outputs
    that are on; None where it does not show them. dead_man_s: the time set in the device. alarms: the
    bits that are set, by name.
    """

    at: datetime
    measured_c: float | None = None
    set_point_c: float | None = None
    on: frozenset[Output] | None = None
    dead_man_s: float | None = None
    alarms: frozenset[str] = frozenset()

    def readings(self, outputs: frozenset[Output], alarms: Iterable[str] = ()) -> Iterator[RawReading]:
        """As the readings of a source, with the channels `measured`, `set-point`, `heat`, `cool`, and one an alarm bit.

        outputs, alarms: those that this device has.
        """
        if self.measured_c is not None:
            yield RawReading("measured", self.measured_c, self.at, Unit.CELSIUS)
        if self.set_point_c is not None:
            yield RawReading("set-point", self.set_point_c, self.at, Unit.CELSIUS)
        if self.on is not None:
            for output in sorted(outputs):
                yield RawReading(output.value, float(output in self.on), self.at, Unit.SWITCH)
        for name in alarms:
            yield RawReading(name, float(name in self.alarms), self.at, Unit.SWITCH)


@dataclass(frozen=True, slots=True)
class SetPoint:
    """Write this set point: absolute, so that a repetition changes nothing."""

    target_c: float


@dataclass(frozen=True, slots=True)
class Switch:
    """Have these outputs on and all others off, for at most `lease_s` unless renewed; absolute, never "toggle"."""

    on: frozenset[Output]
    lease_s: float


@dataclass(frozen=True, slots=True)
class Order:
    """What is asked of a device. It is never sent, nor sent again, at or after `expires_at`, however it was delayed."""

    id: str
    asked_at: datetime
    expires_at: datetime
    what: SetPoint | Switch

    def expired(self, now: datetime) -> bool:
        """Also where the clock was set back to before it was asked: its age is then unknown."""
        return not self.asked_at <= now < self.expires_at


class OrderResult(StrEnum):
    """What became of a request on the wire. Whether the device did it is read back, whatever this says."""

    TAKEN = "taken"  # the device answered that it took it
    UNANSWERED = "unanswered"  # no answer, or a damaged one: it may have been done
    BUSY = "busy"  # the device asks to come later: it was not done
    REFUSED = "refused"  # the device will never take it: a configuration is wrong; not to be repeated
    EXPIRED = "expired"  # it was not sent


@dataclass(frozen=True, slots=True)
class Response:
    """`detail` is cleaned and fits one line; empty where `result` says it all."""

    result: OrderResult
    detail: str = ""


class Hearing(Listener, Protocol):
    """What a controller speaks to: the intake of a source, which it is too, and who controls."""

    async def seen(self, seen: Seen) -> None:
        """Hand over what one reading showed; waits while it cannot be taken."""


class Controller(Protocol):
    """One configured device."""

    @property
    def abilities(self) -> Abilities:
        """By its configuration, without asking the device: unchanged while it lives."""

    async def run(self, hearing: Hearing) -> None:
        """Open and read until cancelled or until the connection fails; supervised, and started again, as a `Driver`.

        Switches nothing by itself, neither on opening nor on the way out. Raises ProbeUnavailable and ProbeRefused
        alike.
        """

    async def read(self) -> Seen:
        """Read the device now, past every cached value. Raises ProbeUnavailable where it gives no answer."""

    async def ask(self, request: Order) -> Response:
        """Send the request once, unless it has expired by the time the wire is free. Raises nothing for a lost wire.

        Never repeats by itself and never asks a broker to retain. Raises ValueError for what `abilities` does not have.
        """


class ControllerKind(Protocol[OptionsT]):
    """What is registered as an entry point."""

    @property
    def contract_version(self) -> int: ...

    @property
    def options(self) -> type[OptionsT]:
        """The pydantic model of a controller's own keys in the configuration: one sentence per field."""

    def create(self, name: str, options: OptionsT, clock: Clock, wires: Wires) -> Controller:
        """The controller; opens nothing. Raises ConfigError where its options contradict each other."""


CONTROLLERS: Group[ControllerKind[Any]] = Group("fermwatch.controllers", "controller", CONTRACT_VERSION)
