"""Two families of fermentation curves: points fallen after some thermal hours, and back.

Parameters are columns, broadcast against the hours, so that one call evaluates many curves.

- Uptake: Michaelis-Menten uptake by yeast that grows logistically, integrated in closed form by Lambert's W0
  (Schnell & Mendoza 1997, J. Theor. Biol. 187:207).
- Richards: the generalised logistic in Zwietering's form (1990, Appl. Environ. Microbiol. 56:1875): its parameters
  are the steepest rate and the lag.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

BIGGEST = 500.0  # exponents beyond which a curve has long arrived


def lambert_log(exponent: Array) -> Array:
    """ln W0(exp(exponent)): solves w + ln w = exponent by Newton's method on ln w, which never overflows."""
    log_w = np.where(exponent > 1.0, np.log(np.maximum(exponent, 1.0)), exponent)
    for _ in range(5):
        w = np.exp(log_w)
        log_w = log_w - (log_w + w - exponent) / (1.0 + w)
    return np.asarray(log_w)


def _softplus_hours(hours: Array) -> Array:
    """Hours after the lag, with a soft corner two hours wide."""
    return np.asarray(2.0 * np.logaddexp(0.0, hours / 2.0))


@dataclass(frozen=True, slots=True)
class Uptake:
    """end: points fermentable; steepest: about the largest decline, points/h; lag: h; half: points left at half the
    uptake rate; seed: share of yeast at the start; growth: 1/h."""

    end: Array
    steepest: Array
    lag: Array
    half: Array
    seed: Array
    growth: Array

    def fallen(self, hours: Array) -> Array:
        """Points fallen after these thermal hours."""
        active = _softplus_hours(hours - self.lag)
        grown = np.minimum(self.growth * active, BIGGEST)
        yeast_hours = np.log1p(self.seed * np.expm1(grown)) / self.growth
        exponent = np.log(self.end / self.half) + (self.end - self._uptake * yeast_hours) / self.half
        return np.asarray(self.end - self.half * np.exp(lambert_log(exponent)))

    def hours_until(self, left: float) -> Array:
        """Thermal hours until no more than `left` points are to go; 0 where it starts with less."""
        end = np.maximum(self.end, left * (1.0 + 1e-9))
        yeast_hours = (end - left + self.half * np.log(end / left)) / self._uptake
        grown = np.minimum(self.growth * yeast_hours, BIGGEST)
        active = np.log1p(np.expm1(grown) / self.seed) / self.growth
        halves = np.maximum(active / 2.0, 1e-9)
        return np.asarray(np.maximum(self.lag + 2.0 * (halves + np.log(-np.expm1(-halves))), 0.0))

    @property
    def _uptake(self) -> Array:
        return self.steepest * (1.0 + 2.0 * self.half / self.end)


@dataclass(frozen=True, slots=True)
class Richards:
    """end, steepest, lag: as above; shape: 1 is the logistic, towards 0 it is Gompertz's curve.

    A sigmoid has no beginning: what it had fallen at pitch is taken off, and the rest stretched to the same end.
    """

    end: Array
    steepest: Array
    lag: Array
    shape: Array

    def fallen(self, hours: Array) -> Array:
        before = self._before
        return np.asarray(self.end * (self._share(hours) - before) / (1.0 - before))

    def hours_until(self, left: float) -> Array:
        share_left = np.minimum(left / self.end, 1.0 - 1e-9) * (1.0 - self._before)
        missing = np.expm1(-self.shape * np.log1p(-share_left)) / self.shape
        return np.asarray(np.maximum(self.lag + (1.0 + self.shape - np.log(missing)) / self._speed, 0.0))

    @property
    def _before(self) -> Array:
        return self._share(np.zeros(1))

    def _share(self, hours: Array) -> Array:
        exponent = np.clip(1.0 + self.shape + self._speed * (self.lag - hours), -BIGGEST, BIGGEST)
        return np.asarray(np.exp(-np.log1p(self.shape * np.exp(exponent)) / self.shape))

    @property
    def _speed(self) -> Array:
        return np.asarray(self.steepest / self.end * (1.0 + self.shape) ** (1.0 + 1.0 / self.shape))
