"""A robust Kalman filter over three-hour bins: gravity, its rate, and what a floating probe adds to it.

State: gravity (points), rate (points/day), probe offset (points), probe drift (points/day), the share of water's
density change with temperature that the probe lets through, the disturbance by foam (points), and by how much a
refractometer misreads (points: alcohol bends light, so it is unknown, but steady once nothing ferments). The original
gravity is the anchor: the offset is learned while nothing ferments, so that one later hydrometer reading fixes the
drift.

Kalman 1960 (doi:10.1115/1.3662552); large innovations widen the variance instead of moving the state, as in a
Huber-type robust filter. Process noises were measured on simulated batches.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fermwatch.judgement.preprocess import Bin
from fermwatch.judgement.settings import BIN_DAYS, BIN_H
from fermwatch.science.extract import water_density

Array = NDArray[np.float64]

GRAVITY, RATE, OFFSET, DRIFT, SHARE, FOAM, BIAS = range(7)
STATES = 7

RATE_NOISE, RATE_NOISE_PER_RATE = 0.04, 0.5
DOUBT_PROBE_FROM, DOUBT_HAND_FROM = 3.0, 3.5  # standard deviations
RISES = 3.0  # points in three hours: no foam lifts a probe so far at once, and beer does not rise
RESTLESS_NOISE = 2.5  # of wort that has not fermented yet: it may start at any hour
GRAVITY_NOISE_VARIANCE = 0.002
OFFSET_SD, OFFSET_NOISE, DRIFT_NOISE = 0.7, 0.05, 0.02
SHARE_MEAN, SHARE_SD = 0.6, 0.5
SHARE_LEAST, SHARE_MOST, SHARE_SLACK = -0.1, 1.2, 0.1
FOAM_SD, FOAM_FULL_AT = 2.0, 12.0  # points; points/day
FOAM_KEPT = float(np.exp(-BIN_H / 4.0))
DECLINE_MEMORY = float(np.exp(-BIN_H / 12.0))


def density_effect(temperature_c: float) -> float:
    """Points by which water at this temperature is denser than at 20 °C."""
    return 1000.0 * (water_density(min(max(temperature_c, 0.0), 100.0)) / water_density(20.0) - 1.0)


@dataclass(frozen=True, slots=True)
class Estimate:
    """What the filter holds at a bin's end. mean: (7,), covariance: (7, 7); recent_decline: points/day, fading.

    surprised: points by which the last bin missed what was expected, where that was far; else 0.
    """

    mean: Array
    covariance: Array
    recent_decline: float
    surprised: float = 0.0

    @property
    def gravity(self) -> float:
        return float(self.mean[GRAVITY])

    @property
    def rate(self) -> float:
        return float(self.mean[RATE])

    def sd(self, index: int) -> float:
        return float(np.sqrt(max(self.covariance[index, index], 0.0)))

    @property
    def foam_sd(self) -> float:
        return FOAM_SD * min(1.0, self.recent_decline / FOAM_FULL_AT)


def start(original: float, original_sd: float, drift_sd: float, offset_sd: float = OFFSET_SD) -> Estimate:
    """The filter at pitch."""
    mean = np.array([original, 0.0, 0.0, 0.0, SHARE_MEAN, 0.0, 0.0])
    covariance = np.diag([max(original_sd, 0.1) ** 2, 25.0, offset_sd**2, drift_sd**2, SHARE_SD**2, 0.01, 100.0])
    return Estimate(mean, covariance, 0.0)


def _transition(days: float) -> Array:
    matrix = np.eye(STATES)
    matrix[GRAVITY, RATE] = matrix[OFFSET, DRIFT] = days
    matrix[FOAM, FOAM] = FOAM_KEPT
    return matrix


_DIAGONAL = np.diag_indices(STATES)
_STEP = _transition(BIN_DAYS)


def predict(estimate: Estimate, *, rate_noise: float = RATE_NOISE, drift_noise: float = DRIFT_NOISE) -> Estimate:
    """One bin later. rate_noise: how much a rate of zero may change, points/day per root of a day."""
    mean = _STEP @ estimate.mean
    covariance = _STEP @ estimate.covariance @ _STEP.T
    rate_noise = rate_noise + RATE_NOISE_PER_RATE * abs(estimate.rate)
    foam = estimate.foam_sd**2 * (1.0 - FOAM_KEPT**2)
    per_day = (
        GRAVITY_NOISE_VARIANCE,
        rate_noise**2,
        OFFSET_NOISE**2,
        drift_noise**2,
        0.0,
        foam / BIN_DAYS,
        estimate.rate**2,
    )
    covariance[_DIAGONAL] += np.array(per_day) * BIN_DAYS
    return Estimate(mean, covariance, estimate.recent_decline * DECLINE_MEMORY, estimate.surprised)


def update(estimate: Estimate, observed: Array, innovation: float, variance: float, spread: float) -> Estimate:
    """Take one observation in: `observed @ state` was expected, and missed by `innovation`.

    variance: of the expectation. spread: of the innovation, widened where it is doubted.
    """
    gain_direction = estimate.covariance @ observed
    gain = gain_direction / (variance + spread)
    covariance = estimate.covariance - gain[:, None] * gain_direction
    mean, covariance = estimate.mean + gain * innovation, (covariance + covariance.T) / 2.0
    return Estimate(mean, covariance, estimate.recent_decline, estimate.surprised)


def rate_noise(share_left: float, temperature_c: float) -> float:
    """What rests in the cold changes its rate slowly; what has sugar left may change it at any hour.

    share_left: of the fall to the highest end expected, 0..1.
    """
    warmth = float(min(1.0, 2.0 ** ((temperature_c - 20.0) / 10.0)))
    return RATE_NOISE * warmth + RESTLESS_NOISE * min(max(share_left, 0.0), 1.0) ** 2


def observe_probe(estimate: Estimate, gravity_bin: Bin) -> Estimate:
    """Take a bin's median in, which stands for the middle of the bin.

    One that is far off is doubted; a second one in a row on the same side is believed.
    """
    if gravity_bin.gravity is None:
        return estimate
    observed = probe_row(gravity_bin.temperature_c)
    expected = float(observed @ estimate.covariance @ observed)
    innovation = gravity_bin.gravity - float(observed @ estimate.mean)
    noise = gravity_bin.median_variance
    excess = innovation**2 / (expected + noise) / DOUBT_PROBE_FROM**2
    surprised = innovation if excess > 1.0 else 0.0
    if surprised * estimate.surprised > 0.0:
        rises = estimate.surprised + estimate.rate * BIN_DAYS > RISES
        estimate = _free_level(estimate, innovation) if rises else _free_rate(estimate, innovation)
        expected = float(observed @ estimate.covariance @ observed)
    elif surprised:
        noise *= 1.0 + 3.0 * (excess - 1.0)
    after = _keep_share(update(estimate, observed, innovation, expected, noise))
    return Estimate(after.mean, after.covariance, after.recent_decline, surprised)


def _free_rate(estimate: Estimate, innovation: float) -> Estimate:
    """Surprised twice: beer and rate have changed since the bin before, as when a stalled beer starts again."""
    covariance = estimate.covariance.copy()
    covariance[GRAVITY, GRAVITY] += innovation**2
    covariance[RATE, RATE] += (innovation / BIN_DAYS / 4.0) ** 2
    return replace(estimate, covariance=covariance)


def _free_level(estimate: Estimate, innovation: float) -> Estimate:
    """What stands higher all at once is a probe that was moved, or sugar that nobody told of: the hydrometer tells."""
    covariance = estimate.covariance.copy()
    covariance[GRAVITY, GRAVITY] += innovation**2
    covariance[OFFSET, OFFSET] += innovation**2
    return replace(estimate, covariance=covariance)


def _keep_share(estimate: Estimate) -> Estimate:
    """A probe lets through no less than nothing of water's density change, and no more than a little over all."""
    share = float(estimate.mean[SHARE])
    allowed = min(max(share, SHARE_LEAST), SHARE_MOST)
    if share == allowed:
        return estimate
    observed = np.zeros(STATES)
    observed[SHARE] = 1.0
    return update(estimate, observed, allowed - share, float(estimate.covariance[SHARE, SHARE]), SHARE_SLACK**2)


def probe_row(temperature_c: float) -> Array:
    """How a bin of the probe depends on the state."""
    return np.array([1.0, -BIN_DAYS / 2.0, 1.0, 0.0, density_effect(temperature_c), 1.0, 0.0])


def observe_hydrometer(
    estimate: Estimate, points: float, sd: float, days_ago: float, *, repeated: bool = False, alone_d: float = 0.0
) -> Estimate:
    """Take a hydrometer reading in, corrected to 20 °C, made `days_ago` before the estimate's instant.

    repeated: whether it says what the one before said. Such a one that is far off is no slip: the probe has moved.
    alone_d: days since the one before, where beer can have come from there and nothing else was heard since. Such a
    one that is far off is no slip either: the beer goes at another pace.
    """
    observed = np.array([1.0, -days_ago, 0.0, 0.0, 0.0, 0.0, 0.0])
    innovation = points - float(observed @ estimate.mean)
    expected = float(observed @ estimate.covariance @ observed)
    if innovation**2 > DOUBT_HAND_FROM**2 * (expected + sd**2):
        if repeated:
            estimate = _free(estimate, {GRAVITY: innovation, OFFSET: -innovation})
        elif alone_d > 0.0:
            estimate = _free(estimate, {GRAVITY: innovation, RATE: innovation / max(alone_d, BIN_DAYS)})
    return _observe_by_hand(estimate, points, sd, observed)


def _free(estimate: Estimate, together: Mapping[int, float]) -> Estimate:
    """Let these states move by so much, together. A probe says gravity and offset together: which is which is open
    again, where a reading is far off; and where nothing but readings tells, so is how fast the beer went meanwhile."""
    moved = np.zeros(STATES)
    for state, most in together.items():
        moved[state] = most
    return replace(estimate, covariance=estimate.covariance + np.outer(moved, moved))


def observe_refractometer(estimate: Estimate, points: float, sd: float, days_ago: float) -> Estimate:
    """Take a refractometer reading in: its level says nothing, its change does."""
    return _observe_by_hand(estimate, points, sd, np.array([1.0, -days_ago, 0.0, 0.0, 0.0, 0.0, 1.0]))


def _observe_by_hand(estimate: Estimate, points: float, sd: float, observed: Array) -> Estimate:
    expected = float(observed @ estimate.covariance @ observed)
    innovation = points - float(observed @ estimate.mean)
    excess = innovation**2 / (expected + sd**2) / DOUBT_HAND_FROM**2
    noise = (expected + sd**2) * max(excess, 1.0) - expected
    return update(estimate, observed, innovation, expected, noise)


def remember_decline(estimate: Estimate) -> Estimate:
    decline = max(estimate.recent_decline, -estimate.rate)
    return Estimate(estimate.mean, estimate.covariance, decline, estimate.surprised)
