"""Where values and instants stand in a picture, and which of them are worth a line: pure arithmetic."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

STEPS = (1.0, 2.0, 5.0)
APART_DAYS = (1, 2, 5, 7, 14, 28, 56, 112, 365)


@dataclass(frozen=True, slots=True)
class Axis:
    """From `low` at the bottom (or the left) to `high`; top and bottom are where they stand in the picture."""

    low: float
    high: float
    top: float
    bottom: float

    def place(self, value: float) -> float:
        inside = min(max(value, self.low), self.high)
        return round(self.bottom - (inside - self.low) / (self.high - self.low) * (self.bottom - self.top), 2)

    def ticks(self, most: int = 5) -> Iterator[float]:
        """Round numbers within, at most so many."""
        step = _step(self.high - self.low, most)
        for number in range(math.ceil(self.low / step), math.floor(self.high / step) + 1):
            yield number * step

    @classmethod
    def over(cls, values: list[float], *, least: float, margin: float, top: float, bottom: float) -> "Axis":
        """That shows all values, with a margin that is a share of their span, and at least a span of `least`."""
        low, high = min(values), max(values)
        short = max(least - (high - low), 0.0) / 2.0
        room = (high - low + 2.0 * short) * margin
        return cls(low - short - room, high + short + room, top, bottom)


def _step(span: float, most: int) -> float:
    whole = 10.0 ** math.floor(math.log10(span / most))
    return next(step * whole for step in (*STEPS, 10.0) if span / (step * whole) <= most)


@dataclass(frozen=True, slots=True)
class TimeAxis:
    start: datetime
    end: datetime
    left: float
    right: float

    def place(self, at: datetime) -> float:
        share = (min(max(at, self.start), self.end) - self.start) / (self.end - self.start)
        return round(self.left + share * (self.right - self.left), 2)

    def midnights(self, local: Callable[[datetime], datetime], most: int = 16) -> Iterator[datetime]:
        """Of the reader's zone: every one, or every so many, at most so many of them."""
        length = (self.end - self.start) / timedelta(days=1)
        apart = next(step for step in APART_DAYS if length / step <= most or step == APART_DAYS[-1])
        first = local(self.start).replace(hour=0, minute=0, second=0, microsecond=0)
        for number in range(1, math.ceil(length) + 2, apart):
            midnight = first + timedelta(days=number)  # by the clock on the wall, whenever that is set
            if midnight <= self.end:
                yield midnight
