"""What is left to ferment: the posterior of it, from all that was measured and from how long the beer has worked.

One look over the last days: each course that its last points may take is weighed by the probe, by readings with the
hydrometer, by when a beer of its kind gets there, and by where its yeast ends. What is linear (gravity now, original
gravity, the probe's offset, drift and share of water's density) is integrated out exactly, as a Gaussian process's
(Rasmussen & Williams 2006, sections 2.2 and 2.7). Thermal time carries warmth: what rests in the cold shows nothing.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fermwatch.judgement.courses import (
    CREEPING,
    NEAR_END,
    PRIOR,
    RESTING,
    Courses,
    Prior,
    chances,
    courses,
    crept,
    fallen_since,
    falling,
)
from fermwatch.judgement.facts import Facts
from fermwatch.judgement.kalman import SHARE_MEAN, density_effect
from fermwatch.judgement.preprocess import Bin
from fermwatch.judgement.probe_offset import ORDINARY as ORDINARY_PROBE
from fermwatch.judgement.probe_offset import ProbeOffset
from fermwatch.judgement.settings import BIN_H
from fermwatch.judgement.stillness import Decline, HandReading
from fermwatch.judgement.thermal import speed
from fermwatch.science.pressure_risk import FermentableLeft

Array = NDArray[np.float64]

WINDOW_DAYS, GROUP = 6.0, 4  # what is looked at of the probe, and how many of its bins are taken as one
CORRELATED = 2.0  # neighbouring bins tell less than independent ones
ANCHOR_H, ANCHOR_SD, ANCHOR_FALL = 9.0, 0.8, 0.3  # the probe at the pitch, before much has fallen
MISFIT_SD, MISFIT_DAYS, MISFIT_SHARE = 0.2, 1.0, 0.08  # points, what no course follows; of what stands higher
WALK_SD = 0.05  # points per root of a day, of the probe's offset
SHARE_SD = 0.4
ANYWHERE_SD = 30.0  # points, of gravity before it is measured
HAND_SD, HAND_MOST = 0.7, 8  # points; how many readings are looked at
NOT_BEFORE_H = 24.0
PACE_SD = 0.06  # points/day: no instrument of a brewer tells less
FORCED_SD, FORCED_ODD = 0.8, (1.6, 0.1)  # points; of the odd ones, and their share
CREEP_LEFT = 5.0  # points, said of what creeps on: nobody knows how many
OUTER, HALF_NORMAL = 0.05, 1.960  # a chance, and above how many deviations a normal cut off at zero has it


@dataclass(frozen=True, slots=True)
class Remaining:
    """over_one, over_two: the chances that more than one and two points of its ordinary sugars are left; creeping: that
    enzymes go on freeing more.

    left: of its ordinary sugars, as a normal cut off at zero that is right where it is unlikely. gravity: points, now,
    if nothing creeps. falls: how fast, by the same.
    """

    over_one: float
    over_two: float
    creeping: float
    resting: float
    expected: float
    left: FermentableLeft
    gravity: float
    falls: Decline


@dataclass(frozen=True, slots=True)
class ThermalClock:
    """Thermal days at hours since the pitch."""

    hours: Array
    thetas: Array
    speed_now: float
    warmth_known: bool

    def at(self, hour: float | Array) -> Array:
        """Beyond the last bin, as warm as of late."""
        hours = np.asarray(hour)
        beyond = np.maximum(hours - self.hours[-1], 0.0) * self.speed_now / 24.0
        return np.asarray(np.interp(hours, self.hours, self.thetas) + beyond)


def clock_of(temperatures_c: Sequence[float | None], facts: Facts) -> ThermalClock:
    """temperatures_c: of each bin, None where nothing tells: then as in the middle of the yeast's range."""
    middle_c = (facts.temperature_low_c + facts.temperature_high_c) / 2.0
    celsius = np.array([middle_c if one is None else one for one in temperatures_c], dtype=np.float64)
    speeds = speed(celsius, facts.temperature_low_c, facts.temperature_high_c)
    hours = np.arange(len(celsius) + 1, dtype=np.float64) * BIN_H
    thetas = np.concatenate([[0.0], np.cumsum(speeds)]) * BIN_H / 24.0
    told = sum(one is not None for one in temperatures_c)
    return ThermalClock(hours, thetas, float(speeds[-8:].mean()), told >= 0.5 * len(celsius))


@dataclass(frozen=True, slots=True)
class Sighting:
    """One measurement. depends: on gravity now, original gravity, offset, drift and share of water's density."""

    hour: float
    points: float
    variance: float
    depends: tuple[float, float, float, float, float]


@dataclass(frozen=True, slots=True)
class Sightings:
    """All that tells of the tail. ago: thermal days before the look. about: points, where gravity is sought."""

    ago: Array
    points: Array
    covariance: Array
    depends: Array
    about: float


def look(
    bins: Sequence[Bin],
    readings: Sequence[HandReading],
    facts: Facts,
    clock: ThermalClock,
    hour: float,
    drift_sd: float,
    probe: ProbeOffset = ORDINARY_PROBE,
    prior: Prior = PRIOR,
) -> Remaining:
    """What is left at `hour`, by what was measured until then. readings: since the beer was changed."""
    found = courses()
    added_h = facts.last_addition_h
    theta = float(clock.at(hour)) - (0.0 if added_h is None else float(clock.at(added_h)))
    logs = np.log(chances(found, facts, theta, warmth_known=clock.warmth_known, prior=prior))
    seen = _seen(bins, readings, facts, clock, hour, probe)
    ends = _ends(facts)
    gravity = sum(mean * share for mean, _, share in ends) + found.left
    if len(seen.points):
        told, gravity, variance = _told(found, seen, theta, facts, (probe.sd, drift_sd))
        odds = _end_odds(gravity - found.left + crept(found, theta), variance, ends)
        logs += told + np.log(np.maximum(odds, 1e-300))
    weights = np.exp(logs - logs.max())
    return _summed(found, weights / weights.sum(), gravity, clock.speed_now)


def _ends(facts: Facts) -> tuple[tuple[float, float, float], ...]:
    """Where it should end, points: means and standard deviations with their shares."""
    if facts.forced is not None:
        odd_sd, share = FORCED_ODD
        end = facts.forced.gravity
        return (end, FORCED_SD, 1.0 - share), (end, odd_sd, share)
    original = facts.original
    return tuple(
        (original * (1.0 - end.attenuation), float(np.hypot(end.sd * original, facts.original_sd)), end.share)
        for end in facts.ends
    )


def _end_odds(end: Array, variance: float, ends: tuple[tuple[float, float, float], ...]) -> Array:
    """How likely such an end is. variance: of gravity now under one course."""
    odds = np.zeros(len(end))
    for mean, sd, share in ends:
        spread = sd**2 + variance
        odds += share * np.exp(-0.5 * (end - mean) ** 2 / spread) / spread**0.5
    return odds


def _seen(
    bins: Sequence[Bin],
    readings: Sequence[HandReading],
    facts: Facts,
    clock: ThermalClock,
    hour: float,
    probe: ProbeOffset,
) -> Sightings:
    since_h = max(facts.last_addition_h or 0.0, 0.0)
    of_probe = list(_tail(bins, since_h))
    by_hand = [r for r in readings if r.level_known and r.hour >= max(since_h, NOT_BEFORE_H)][-HAND_MOST:]
    about = min((r.gravity for r in by_hand), default=min((row.points for row in of_probe), default=facts.original))
    hands = [
        Sighting(r.hour, r.gravity, max(r.sd, HAND_SD) ** 2, (1.0, 0.0, 0.0, 0.0, 0.0))
        for r in by_hand
        if r.gravity - about <= 2.0 * NEAR_END
    ]
    anchor = [] if facts.last_addition_h is not None or not of_probe else list(_anchor(bins, probe))
    rows = [*anchor, *of_probe, *hands]
    hours = np.array([row.hour for row in rows])
    covariance = np.diag([row.variance for row in rows]) if rows else np.zeros((0, 0))
    tail = slice(len(anchor), len(anchor) + len(of_probe))
    covariance[tail, tail] += _shared((hour - hours[tail]) / 24.0)
    depends = np.array([row.depends for row in rows]).reshape(-1, 5)
    ago = clock.at(hour) - clock.at(hours)
    return Sightings(ago, np.array([row.points for row in rows]), covariance, depends, about)


def _tail(bins: Sequence[Bin], since_h: float) -> Iterator[Sighting]:
    """The probe's last days, bins taken together, back to where it stood too high to tell of the tail."""
    recent = [b for b in bins[-int(WINDOW_DAYS * 24.0 / BIN_H) :] if b.gravity is not None and b.middle_h >= since_h]
    lowest = np.inf
    for last in range(len(recent), 0, -GROUP):
        part = recent[max(last - GROUP, 0) : last]
        points, hour, celsius, variance = np.mean(
            [(b.gravity or 0.0, b.middle_h, b.temperature_c, b.median_variance) for b in part], axis=0
        ).tolist()
        lowest = min(lowest, points)
        if points - lowest > NEAR_END:
            return
        variance = CORRELATED * variance / len(part) + (MISFIT_SHARE * (points - lowest)) ** 2
        yield Sighting(hour, points, variance, (1.0, 0.0, 1.0, hour / 24.0, density_effect(celsius)))


def _anchor(bins: Sequence[Bin], probe: ProbeOffset) -> Iterator[Sighting]:
    """The probe at the pitch, where gravity is the original one: what it reads besides is its offset."""
    early = (b for b in bins[: int(ANCHOR_H / BIN_H)] if b.gravity is not None and b.end_h > probe.since_h)
    first = next(early, None)
    if first is not None and first.gravity is not None:
        depends = (0.0, 1.0, 1.0, first.middle_h / 24.0, density_effect(first.temperature_c))
        yield Sighting(first.middle_h, first.gravity + ANCHOR_FALL, first.median_variance + ANCHOR_SD**2, depends)


def _shared(days_back: Array) -> Array:
    """What bins of a probe share: what no course follows, and how its offset wanders."""
    apart = np.abs(days_back[:, None] - days_back[None, :])
    walked = np.minimum(days_back[:, None], days_back[None, :])
    return np.asarray(MISFIT_SD**2 * np.exp(-apart / MISFIT_DAYS) + WALK_SD**2 * walked)


def _told(
    found: Courses, seen: Sightings, theta: float, facts: Facts, probe: tuple[float, float]
) -> tuple[Array, Array, float]:
    """Logarithm of each course's likelihood, with gravity now under it, and that's variance.

    probe: standard deviations of its offset and of its drift.
    """
    offset_sd, drift_sd = probe
    means = np.array([seen.about, facts.original, 0.0, 0.0, SHARE_MEAN])
    spreads = np.array([ANYWHERE_SD, max(facts.original_sd, 0.1), offset_sd, max(drift_sd, 0.01), SHARE_SD])
    spread = seen.depends * spreads
    whiten = np.linalg.inv(np.linalg.cholesky(seen.covariance + spread @ spread.T))
    expected = seen.depends @ means + fallen_since(found, theta, seen.ago) * seen.depends[:, 0]
    misses = whiten @ (seen.points - expected).T
    gain = whiten @ seen.depends[:, 0] * spreads[0] ** 2
    logs = -0.5 * (misses**2).sum(axis=0)
    return logs, seen.about + gain @ misses, max(float(spreads[0] ** 2 - gain @ gain), 1e-6)


def _summed(found: Courses, weights: Array, gravity: Array, speed_now: float) -> Remaining:
    falls = falling(found) * speed_now
    pace = float(weights @ falls)
    creeps = found.kind == CREEPING
    order = np.argsort(found.left)
    ordinary = np.where(creeps, 0.0, weights)[order]
    above = 1.0 - (np.cumsum(ordinary) - 0.5 * ordinary) / max(float(ordinary.sum()), 1e-9)
    outer = float(np.interp(-OUTER, -above, found.left[order]))
    return Remaining(
        over_one=float(weights[~creeps & (found.left > 1.0)].sum()),
        over_two=float(weights[~creeps & (found.left > 2.0)].sum()),
        creeping=float(weights[creeps].sum()),
        resting=float(weights[found.kind == RESTING].sum()),
        expected=float(weights @ np.where(creeps, CREEP_LEFT, found.left)),
        left=FermentableLeft(0.0, min(outer / HALF_NORMAL, 50.0)),
        gravity=float(np.where(creeps, 0.0, weights) @ gravity) / max(float(ordinary.sum()), 1e-9),
        falls=Decline(pace, max(float(weights @ (falls - pace) ** 2) ** 0.5, PACE_SD)),
    )
