"""Invented fermentations: an ODE of sugars, yeast and enzymes, of another structure than the filter and the curves.

Three sugars taken up one after the other by yeast that wakes, grows, suffers from alcohol and settles; enzymes may free
more. Rates follow Arrhenius. All in points (0.001 SG), hours and °C; Euler steps of five minutes.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

STEP_H = 1.0 / 12.0
GAS_CONSTANT = 8.314e-3  # kJ/(mol K)


@dataclass(frozen=True)
class Wort:
    """What was pitched. fermentable: points of ordinary sugars; releasable: points that enzymes may free."""

    original: float
    fermentable: float
    releasable: float = 0.0
    release_per_h: float = 0.0
    release_from_h: float = 0.0


@dataclass(frozen=True)
class Strain:
    """optimum_c: the middle of its range; vigour: about the largest decline there, points/h."""

    optimum_c: float
    coldest_c: float
    vigour: float
    lag_h: float
    activation_kj: float = 65.0
    settling_per_h: float = 0.004
    tolerance_abv: float = 12.0
    seed: float = 0.15
    glucose: float = 0.15
    maltotriose: float = 0.15
    affinity: float = 4.0


@dataclass(frozen=True)
class Course:
    """What happens from outside. at_work: the share of yeast at work, by hour and points left."""

    temperature_c: Callable[[float], float]
    at_work: Callable[[float, float], float] = field(default=lambda _hour, _left: 1.0)
    exotherm_c: float = 0.15


@dataclass(frozen=True)
class Truth:
    """gravity, sugars, potential: points; what can still ferment without and with what enzymes free."""

    hours: Array
    gravity: Array
    sugars: Array
    potential: Array
    temperature_c: Array


def ferment(wort: Wort, strain: Strain, course: Course, days: float) -> Truth:
    """Integrate one batch."""
    count = int(days * 24.0 / STEP_H) + 1
    rows = np.empty((count, 5))
    glucose = wort.fermentable * strain.glucose
    triose = wort.fermentable * strain.maltotriose
    maltose = wort.fermentable - glucose - triose
    dextrin, yeast, awake, gone = wort.releasable, strain.seed, 0.0, 0.0
    beer_c = course.temperature_c(0.0)
    k = strain.affinity
    for index in range(count):
        hour = index * STEP_H
        left = glucose + maltose + triose
        rows[index] = hour, wort.original - gone, left, left + dextrin, beer_c
        speed = _speed(beer_c, strain)
        alive = max(0.0, 1.0 - (gone * 0.131 / strain.tolerance_abv) ** 3)
        awake += speed * STEP_H / strain.lag_h * (1.0 - awake) * (0.05 + 3.0 * awake)
        working = yeast * awake * alive * speed * strain.vigour * course.at_work(hour, left)
        eats_glucose = min(working * glucose / (glucose + 0.3 * k), glucose / STEP_H)
        eats_maltose = min(working * maltose / (maltose + k) / (1.0 + glucose / 2.0), maltose / STEP_H)
        eats_triose = min(0.5 * working * triose / (triose + k) / (1.0 + maltose / 6.0), triose / STEP_H)
        eaten = eats_glucose + eats_maltose + eats_triose
        freed = dextrin * wort.release_per_h * speed if hour >= wort.release_from_h else 0.0
        glucose += (freed - eats_glucose) * STEP_H
        maltose -= eats_maltose * STEP_H
        triose -= eats_triose * STEP_H
        dextrin -= freed * STEP_H
        gone += eaten * STEP_H
        growth = 0.09 * speed * awake * yeast * (1.0 - yeast) * left / (left + 5.0)
        yeast += (growth - strain.settling_per_h * yeast * math.exp(-left / 8.0)) * STEP_H
        yeast = max(yeast, 0.02)
        target = course.temperature_c(hour) + course.exotherm_c * min(eaten * 24.0, 25.0)
        beer_c += (target - beer_c) * STEP_H / 6.0
    return Truth(*(rows[:, column] for column in range(5)))


def _speed(temperature_c: float, strain: Strain) -> float:
    kelvin, best = temperature_c + 273.15, strain.optimum_c + 273.15
    arrhenius = math.exp(strain.activation_kj / GAS_CONSTANT * (1.0 / best - 1.0 / kelvin))
    cold = 1.0 / (1.0 + math.exp(-(temperature_c - strain.coldest_c) / 0.7))
    return min(arrhenius, 3.0) * cold
