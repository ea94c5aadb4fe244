"""The second simulator: no yeast and no sugars, but curves and pools drained at disturbed rates.

The main fall is a Richards curve, the tail a power law or a stretched exponential, both in a clock of the beer's own
that runs faster when warm (linearly, not by Arrhenius) and is disturbed piece by piece; enzymes drain a pool of
dextrins of first order beside it. The judgement's forecast knows Richards curves too; it knows neither these tails,
nor the disturbances, nor the pool, and its filter and `brew` know none of it.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.judge.brew import Array, Truth

STEP_H = 0.25
FARTHEST = 700.0  # exponents beyond are none that a float holds
REST = 0.002  # of its speed is left to a beer that has stopped


@dataclass(frozen=True)
class Curve:
    """The beer's own clock is in hours at `middle_c`. asymmetry: Richards' exponent; tail_share: 0..1 of the fall.

    power: the tail's exponent, of a power law where `heavy`, else of a stretched exponential.
    """

    middle_c: float
    half_way_h: float
    steepness_per_h: float
    asymmetry: float
    tail_share: float
    tail_h: float
    power: float
    heavy: bool


@dataclass(frozen=True)
class Enzymes:
    """dextrins: points they may free in all, a share `per_h` of what is left each hour from `from_h` on."""

    dextrins: float = 0.0
    per_h: float = 0.0
    from_h: float = 0.0


def share_left(curve: Curve, own_h: float) -> float:
    """Share of the ordinary fermentable that is left after so many hours of the beer's own clock; 1 at the pitch."""
    return _unscaled(curve, own_h) / _unscaled(curve, 0.0)


def _unscaled(curve: Curve, own_h: float) -> float:
    late = own_h - curve.half_way_h
    ahead = math.exp(min(-curve.steepness_per_h * late, FARTHEST))
    grown = math.exp(-math.log1p(curve.asymmetry * ahead) / curve.asymmetry)
    after = max(late, 0.0) / curve.tail_h
    tail = (1.0 + after) ** -curve.power if curve.heavy else math.exp(-(after**curve.power))
    return (1.0 - curve.tail_share) * (1.0 - grown) + curve.tail_share * tail


def drain(
    original: float,
    fermentable: float,
    curve: Curve,
    temperature_c: Callable[[float], float],
    at_work: Callable[[float, float], float],
    enzymes: Enzymes,
    days: float,
    random: np.random.Generator,
) -> Truth:
    """One batch. at_work: the share of its speed by hour and points left. All gravities in points."""
    count = int(days * 24.0 / STEP_H) + 1
    disturbed = _pieces(count, random)
    rows = np.empty((count, 5))
    own_h, left, dextrin = 0.0, fermentable, enzymes.dextrins
    for index in range(count):
        hour = index * STEP_H
        celsius = temperature_c(hour)
        gone = fermentable - left + enzymes.dextrins - dextrin
        rows[index] = hour, original - gone, left, left + dextrin, celsius
        warm = min(max(1.0 + 0.09 * (celsius - curve.middle_c), 0.02), 2.5)
        own_h += STEP_H * warm * disturbed[index] * at_work(hour, left)
        left = fermentable * share_left(curve, own_h)
        if hour >= enzymes.from_h:
            dextrin *= math.exp(-enzymes.per_h * warm * STEP_H)
    return Truth(*(rows[:, column] for column in range(5)))


def _pieces(count: int, random: np.random.Generator) -> Array:
    """A speed that holds for 6 to 30 hours and then is another one."""
    speeds = np.empty(count)
    place = 0
    while place < count:
        length = int(random.uniform(6.0, 30.0) / STEP_H)
        speeds[place : place + length] = math.exp(float(random.normal(0.0, 0.25)))
        place += length
    return speeds
