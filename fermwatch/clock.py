"""The only place that reads a clock.

`now()` is wall time, for storing and showing; `monotonic_s()` is real time, for everything that waits on hardware, a
broker or a disk. Whoever decides receives the deciding instant as a value and never calls either.
"""

import time
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Protocol

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
WRITTEN = datetime(2025, 6, 1, tzinfo=UTC)  # nobody ran this program before: an earlier clock was not set yet


class Clock(Protocol):
    """A source of wall time and of monotonic time."""

    def now(self) -> datetime: ...

    def monotonic_s(self) -> float: ...


class MachineClock(Clock, Protocol):
    """A clock that can also tell whether the machine slept."""

    def running_s(self) -> float:
        """As monotonic_s, and going on while the machine sleeps."""


class SystemClock:
    """The machine's own clocks."""

    def now(self) -> datetime:
        return datetime.now(UTC)

    def monotonic_s(self) -> float:
        return time.monotonic()

    def running_s(self) -> float:
        return time.clock_gettime(time.CLOCK_BOOTTIME) if hasattr(time, "CLOCK_BOOTTIME") else time.monotonic()


JUMP = timedelta(seconds=2)


@dataclass(frozen=True, slots=True)
class Instant:
    """All times at once, to tell by whether the wall's clock was set meanwhile, or the machine slept."""

    wall: datetime
    monotonic_s: float
    running_s: float

    @classmethod
    def of(cls, clock: MachineClock) -> "Instant":
        return cls(clock.now(), clock.monotonic_s(), clock.running_s())

    def jump_until(self, later: "Instant") -> timedelta:
        """How much more the wall clock went than time did since; nothing where it only drifted a little."""
        passed = timedelta(seconds=later.monotonic_s - self.monotonic_s)
        return _if_worth_it(later.wall - self.wall - passed)

    def slept_until(self, later: "Instant") -> timedelta:
        """How long the machine slept since, which the wall clock went on for and the monotonic one did not."""
        running_s, awake_s = later.running_s - self.running_s, later.monotonic_s - self.monotonic_s
        return _if_worth_it(timedelta(seconds=running_s - awake_s))


def _if_worth_it(jump: timedelta) -> timedelta:
    return jump if abs(jump) > JUMP else timedelta()


@dataclass(slots=True)
class ManualClock:
    """A clock that stands still until it is moved: for tests and replays."""

    at: datetime = field(default_factory=lambda: EPOCH)
    elapsed_s: float = 0.0
    slept_s: float = 0.0

    def now(self) -> datetime:
        return self.at

    def monotonic_s(self) -> float:
        return self.elapsed_s

    def running_s(self) -> float:
        return self.elapsed_s + self.slept_s

    def set(self, by: timedelta) -> None:
        """Somebody sets the wall's clock."""
        self.at += by

    def sleep(self, span: timedelta) -> None:
        """The machine sleeps, and wakes."""
        self.at += span
        self.slept_s += span.total_seconds()

    def advance(self, seconds: float) -> None:
        self.at += timedelta(seconds=seconds)
        self.elapsed_s += seconds


def to_ms(at: datetime) -> int:
    """Whole milliseconds since 1970, UTC: how instants are stored. Naive datetimes are refused."""
    if at.tzinfo is None:
        raise ValueError(f"an instant without a time zone: {at}")
    return (at - EPOCH) // timedelta(milliseconds=1)


def from_ms(milliseconds: int) -> datetime:
    return EPOCH + timedelta(milliseconds=milliseconds)
