"""From raw readings to three-hour bins: screening, stuck floats, the probe's own noise.

A bin rests only on readings taken before its end (`known_until`), so that what is said at its end never changes by
what came later, unless a late row belongs into it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import overload

import numpy as np
from numpy.typing import NDArray

from fermwatch.judgement.series import Series
from fermwatch.judgement.settings import BIN_H, BINS_PER_DAY
from fermwatch.model.believable import PLAUSIBLE
from fermwatch.model.quantity import Quantity

Array = NDArray[np.float64]

WINDOW = 1000  # readings that noise and repeats are reckoned from
NOISE_FLOOR = 0.3
STUCK_CHANCE = 1e-4
STUCK_LEAST_H = 2.0
TEMPERATURE_STALE_H = 24.0


@dataclass(frozen=True, slots=True)
class Bin:
    """Three hours of a batch.

    gravity: median of the probe's readings in points, not corrected for temperature; None without any.
    noise: standard deviation of one probe reading, points.
    temperature_c: mean beer temperature, else the last one known; `temperature_known` if that is no older than a day.
    last_h: when the last of the probe's readings was taken.
    """

    end_h: float
    gravity: float | None
    readings: int
    noise: float
    temperature_c: float
    temperature_known: bool
    last_h: float | None = None

    @property
    def middle_h(self) -> float:
        return self.end_h - BIN_H / 2

    @property
    def median_variance(self) -> float:
        """Variance of the bin's median: pi/2 of a mean's, and a floor for what readings of three hours share."""
        return 1.57 * self.noise**2 / max(self.readings, 1) + 0.15**2


def probe_heard(bins: Sequence[Bin]) -> bool:
    """Whether a probe told gravity in the last two days of these."""
    return any(one.gravity is not None for one in bins[-2 * BINS_PER_DAY :])


@overload
def plausible_gravity(points: float) -> bool: ...
@overload
def plausible_gravity(points: Array) -> NDArray[np.bool_]: ...
def plausible_gravity(points: float | Array) -> bool | NDArray[np.bool_]:
    low, high = PLAUSIBLE[Quantity.GRAVITY]
    return (1000.0 * (low - 1.0) <= points) & (points <= 1000.0 * (high - 1.0))


@overload
def plausible_temperature(celsius: float) -> bool: ...
@overload
def plausible_temperature(celsius: Array) -> NDArray[np.bool_]: ...
def plausible_temperature(celsius: float | Array) -> bool | NDArray[np.bool_]:
    """No power-on code lies in the plausible span."""
    low, high = PLAUSIBLE[Quantity.BEER_TEMPERATURE]
    return (low <= celsius) & (celsius <= high)


def median_of(values: Array) -> float:
    """Of finite values, one at least. numpy's own looks for more than these can hold, and takes twice as long."""
    middle = len(values) // 2
    if len(values) % 2:
        return float(np.partition(values, middle)[middle])
    halves = np.partition(values, (middle - 1, middle))
    return float((halves[middle - 1] + halves[middle]) / 2.0)


def noise_of(values: Array) -> float:
    """Standard deviation of one reading, from second differences, which a smooth decline leaves at zero."""
    if len(values) < 5:
        return 1.0
    second = np.diff(values, 2)
    spread = median_of(np.abs(second - median_of(second)))
    return max(NOISE_FLOOR, 1.4826 * spread / float(np.sqrt(6.0)))


def stuck(hours: Array, values: Array) -> NDArray[np.bool_]:
    """True where a reading is part of a run of equal values too long to be chance, as often as this probe repeats."""
    n = len(values)
    mask = np.zeros(n, dtype=bool)
    if n < 3:
        return mask
    same = values[1:] == values[:-1]
    equal = np.count_nonzero(same)
    repeats = min(max(equal / (n - 1), 0.05), 0.9)
    least = np.log(STUCK_CHANCE) / np.log(repeats)
    if equal + 1 <= least:
        return mask
    starts = np.concatenate(([0], np.flatnonzero(~same) + 1))
    ends = np.concatenate((starts[1:], [n]))
    spans = hours[ends - 1] - hours[starts]
    long = (ends - starts > least) & (spans >= STUCK_LEAST_H)
    for start, end in zip(starts[long], ends[long], strict=True):
        mask[start:end] = True
    return mask


@dataclass(frozen=True, slots=True)
class RecentGravity:
    """The probe's last readings before `until_h`, with what they tell of the probe."""

    until_h: float
    hours: Array
    values: Array
    stuck: NDArray[np.bool_]
    noise: float

    @classmethod
    def before(cls, gravity: Series, known_until: float) -> "RecentGravity":
        hours, values = (np.array(one) for one in gravity.last_before(known_until, WINDOW))
        mask = stuck(hours, values)
        return cls(known_until, hours, values, mask, noise_of(values[~mask]))

    def stuck_since(self, hour: float) -> float | None:
        """When the stuck run began that reaches past `hour`; None where there is none."""
        reaching = self.stuck & (self.hours >= hour)
        if not reaching.any():
            return None
        first = int(np.argmax(reaching))
        while first > 0 and self.stuck[first - 1] and self.values[first - 1] == self.values[first]:
            first -= 1
        return float(self.hours[first])

    def bin(self, end_h: float, temperature: Series, fallback_c: float) -> Bin:
        """The bin that ends at `end_h`."""
        start, stop = np.searchsorted(self.hours, (end_h - BIN_H, end_h))
        kept = ~self.stuck[start:stop]
        good = self.values[start:stop][kept]
        celsius, known = _temperature(temperature, end_h, min(end_h, self.until_h), fallback_c)
        if not len(good):
            return Bin(end_h, None, 0, self.noise, celsius, known)
        last_h = float(self.hours[start:stop][kept][-1])
        return Bin(end_h, median_of(good), len(good), self.noise, celsius, known, last_h)


def _temperature(temperature: Series, end_h: float, until_h: float, fallback_c: float) -> tuple[float, bool]:
    rows = temperature.between(end_h - BIN_H, until_h)
    if rows:
        return sum(value for _, value in rows) / len(rows), True
    hours, values = temperature.last_before(until_h, 1)
    if not hours:
        return fallback_c, False
    return values[0], end_h - hours[0] <= TEMPERATURE_STALE_H
