"""Is it still? Asked as an equivalence test: the chance that a decline is hidden must be small.

"No significant change" proves nothing from few or noisy readings (Dixon & Pechmann 2005, Ecology 86:1751).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fermwatch.judgement.kalman import RATE, Estimate
from fermwatch.model.amounts import pace

LONGEST_DAYS = 21.0
SHORTEST_DAYS = 3.0


@dataclass(frozen=True, slots=True)
class HandReading:
    """A hand measurement of gravity at `hour`, points.

    sample_c: how warm it was when it was read, where that was said. level_known: a refractometer's level is not known,
    only its changes; and gas lifts a hydrometer by some points.
    """

    id: str
    hour: float
    gravity: float
    sd: float
    level_known: bool
    instrument: str = "hydrometer"
    sample_c: float | None = None

    @property
    def gassy(self) -> bool:
        return self.instrument == "hydrometer" and not self.level_known


@dataclass(frozen=True, slots=True)
class Decline:
    """How fast gravity falls: points/day, positive falling, with its standard deviation."""

    points_per_day: float
    sd: float

    def __str__(self) -> str:
        return pace(-self.points_per_day, self.sd)

    def chance_of(self, at_least: float) -> float:
        """The probability that it falls at least so fast."""
        return 0.5 * math.erfc((at_least - self.points_per_day) / max(self.sd, 1e-9) / math.sqrt(2.0))


def decline_of(estimate: Estimate) -> Decline:
    return Decline(-estimate.rate, estimate.sd(RATE))


def decline_by_hand(readings: Sequence[HandReading], limit: float) -> Decline | None:
    """The line through the last hand readings, over the span that says most; None from less than three days.

    A fermentation slows down: its mean decline over a span is no less than that at its end. Each instrument keeps its
    own unknown level.
    """
    readings = [reading for reading in readings if not reading.gassy]
    lines = [
        line
        for first in range(len(readings) - 1)
        if (readings[-1].hour - readings[first].hour) / 24.0 <= LONGEST_DAYS
        and _longest_days(readings[first:]) >= SHORTEST_DAYS
        and (line := _line(readings[first:])) is not None
    ]
    return min(lines, key=lambda line: line.chance_of(limit), default=None)


def _longest_days(readings: Sequence[HandReading]) -> float:
    """Between the first and the last of one instrument: what another read before tells no pace of these."""
    series = ([one.hour for one in readings if one.level_known is known] for known in (False, True))
    return max((hours[-1] - hours[0]) / 24.0 for hours in series if hours)


def _line(readings: Sequence[HandReading]) -> Decline | None:
    days = np.array([reading.hour / 24.0 for reading in readings])
    known = np.array([1.0 if reading.level_known else 0.0 for reading in readings])
    design = np.column_stack([known, 1.0 - known, days - days.mean()])
    design = design[:, np.abs(design).sum(axis=0) > 0.0]
    weights = np.array([1.0 / min(reading.sd, 0.7) ** 2 for reading in readings])
    normal = design.T @ (design * weights[:, None])
    if np.linalg.matrix_rank(normal) < normal.shape[0]:
        return None
    covariance = np.linalg.inv(normal)
    slope = covariance @ (design.T @ (weights * np.array([reading.gravity for reading in readings])))
    return Decline(-float(slope[-1]), float(np.sqrt(covariance[-1, -1])))
