"""Conversions of an array, checked and inverted, beside one plain numpy polynomial of the same array in the same run.

The polynomial has as many coefficients as the formula that is evaluated or solved. Aim: closed forms within 2 times it,
solved ones within 20 times. The last column is the ratio to a bare cubic, for those who would use one instead.
"""

import statistics
import sys
import timeit
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fermwatch.science import alcohol, ethanol_water, extract, hydrometer, refractometer, solubility
from fermwatch.science.numeric import beside

SIZE = 10_000  # a batch of a hundred days, read every quarter of an hour
ROUNDS = 9
CALLS = 3

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Contender:
    """A conversion, the range of its input, and how many coefficients its formula has."""

    name: str
    convert: Callable[[Array], Array]
    low: float
    high: float
    coefficients: int
    solved: bool = False

    @property
    def aim(self) -> float:
        return 20.0 if self.solved else 2.0


def hydrometer_warm(readings: Array) -> Array:
    return hydrometer.correct_sg(readings, beside(28.0, readings))


def hydrometer_each_its_temperature(readings: Array) -> Array:
    return hydrometer.correct_sg(readings, 280.0 * (readings - 1.0))


def refractometer_half_fermented(readings: Array) -> Array:
    return refractometer.final_gravity(readings, 0.55 * readings)


def alcohol_at_80_percent(original: Array) -> Array:
    return alcohol.abv_from_gravity(original, 0.2 * original + 0.8)


def pressure_at_20_degrees(volumes: Array) -> Array:
    return solubility.pressure_bar_gauge(volumes, beside(20.0, volumes))


CONTENDERS = (
    Contender("SG to °P", extract.sg_to_plato, 1.0, 1.1, 4),
    Contender("Brix to refractive index", refractometer.brix_to_nd, 0.0, 30.0, 5),
    Contender("% mass to % vol", ethanol_water.abw_to_abv, 0.0, 12.0, 13),
    Contender("water density", extract.water_density, 0.0, 40.0, 8),
    Contender("alcohol of gravities", alcohol_at_80_percent, 1.03, 1.1, 12),
    Contender("°P to SG", extract.plato_to_sg, 0.0, 25.0, 4, solved=True),
    Contender("refractive index to Brix", refractometer.nd_to_brix, 1.333, 1.38, 5, solved=True),
    Contender("hydrometer at 28 °C", hydrometer_warm, 1.0, 1.1, 7, solved=True),
    Contender("hydrometer, each its °C", hydrometer_each_its_temperature, 1.0, 1.1, 32, solved=True),
    Contender("fermented refractometer", refractometer_half_fermented, 10.0, 20.0, 18, solved=True),
    Contender("pressure of volumes", pressure_at_20_degrees, 1.0, 5.0, 4, solved=True),
)


def report() -> str:
    """Return the table; ratios are taken within a round, and the median of the rounds is shown."""
    lines = [
        f"{SIZE:,} values, median of {ROUNDS} interleaved rounds",
        f"{'conversion':<26}{'ns/value':>10}{'x own':>8}{'aim':>6}{'x cubic':>10}",
    ]
    for contender in CONTENDERS:
        nanoseconds, own, cubic = _measure(contender)
        verdict = "" if own <= contender.aim else "  MISSED"
        lines.append(f"{contender.name:<26}{nanoseconds:>10.1f}{own:>8.1f}{contender.aim:>6.0f}{cubic:>10.1f}{verdict}")
    return "\n".join(lines)


def plain_polynomial(coefficients: Array, x: Array) -> Array:
    """Horner's rule in numpy, without a check."""
    result: Array = coefficients[-1] * x + coefficients[-2]
    for coefficient in coefficients[-3::-1]:
        result = result * x + coefficient
    return result


def _measure(contender: Contender) -> tuple[float, float, float]:
    values = np.random.default_rng(7).uniform(contender.low, contender.high, SIZE)
    coefficients = np.random.default_rng(8).normal(size=contender.coefficients)
    rounds = [
        (
            _seconds(lambda: contender.convert(values)),
            _seconds(lambda: plain_polynomial(coefficients, values)),
            _seconds(lambda: plain_polynomial(coefficients[:4], values)),
        )
        for _ in range(ROUNDS)
    ]
    return (
        statistics.median(ours for ours, _, _ in rounds) / SIZE * 1e9,
        statistics.median(ours / own for ours, own, _ in rounds),
        statistics.median(ours / cubic for ours, _, cubic in rounds),
    )


def _seconds(call: Callable[[], Array]) -> float:
    return min(timeit.repeat(call, number=CALLS, repeat=5)) / CALLS


if __name__ == "__main__":
    sys.stdout.write(report() + "\n")
