"""Has it stopped too early? Still well above where it should end, after it has fermented."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fermwatch.judgement.facts import Facts
from fermwatch.judgement.kalman import GRAVITY, Estimate
from fermwatch.judgement.preprocess import Bin
from fermwatch.judgement.settings import BINS_PER_DAY
from fermwatch.judgement.stillness import HandReading, decline_of

LEAST_FALL_SHARE = 0.15  # of the original gravity: before that a slow start looks the same
FASTEST = 2.2  # points/day
WINDOWS_DAYS = (1.0, 1.5, 2.0)
ABOVE_CHANCE = 0.85
ONE_SIDED_90 = 1.28
AGREE_APART_H, AGREE_WITHIN, AGREE_CHANCE = 40.0, 1.05, 0.95  # of two hydrometer readings that alone tell a stall
RISES_AT_MOST = 2.0  # points, from the first of them to the last: beyond, one of the two is a slip
AGREE_HOLDS_H = 7 * 24.0
READING_SD = 0.5  # points, of the mean of two


@dataclass(frozen=True, slots=True)
class StallCheck:
    """above: points above the highest end expected; chance_above: that it is more than one point above it.

    by_hand: two hydrometer readings that agree, days apart, tell it: no second look tells more.
    """

    stalled: bool
    above: float
    chance_above: float
    threshold: float
    by_hand: bool = False


def check(bins: Sequence[Bin], estimate: Estimate, facts: Facts, readings: Sequence[HandReading]) -> StallCheck:
    """One look at the bins so far; a stall is told on two looks in a row, or by readings that agree.

    readings: since the beer was last changed.
    """
    above = estimate.gravity - facts.highest_end
    spread = math.hypot(estimate.sd(GRAVITY), 0.3)
    chance = 0.5 * math.erfc((1.0 - above) / spread / math.sqrt(2.0))
    warmth = 2.0 ** ((bins[-1].temperature_c - 20.0) / 10.0)
    threshold = min(FASTEST, max(1.0, 0.25 * above * warmth))
    fallen = facts.attenuation(estimate.gravity) >= LEAST_FALL_SHARE
    by_hand = _stands_by_hand(bins, facts, readings)
    flat = by_hand or (fallen and chance >= ABOVE_CHANCE and _flat(bins, estimate, threshold, readings))  # dearest last
    return StallCheck(flat, above, chance, threshold, by_hand)


def _stands_by_hand(bins: Sequence[Bin], facts: Facts, readings: Sequence[HandReading]) -> bool:
    """Whether two hydrometer readings days apart say the same, well above where it should end, and no probe is heard.

    The rate that a filter believes of beer read twice a week is wide; that it has hardly fallen in days is not.
    """
    read, hour = [one for one in readings if one.level_known], bins[-1].end_h
    probed = any(b.gravity is not None for b in bins[-int(max(WINDOWS_DAYS) * BINS_PER_DAY) :])
    if probed or not read or hour - read[-1].hour > AGREE_HOLDS_H:
        return False
    last = read[-1]
    first = next((one for one in reversed(read) if last.hour - one.hour >= AGREE_APART_H), None)
    if first is None or not -RISES_AT_MOST <= first.gravity - last.gravity <= AGREE_WITHIN:
        return False
    level = (first.gravity + last.gravity) / 2.0
    spread = math.hypot(READING_SD, facts.original_sd * (1.0 - facts.attenuation_low))
    above = 0.5 * math.erfc((1.0 - level + facts.highest_end) / spread / math.sqrt(2.0))
    return facts.attenuation(first.gravity) >= LEAST_FALL_SHARE and above >= AGREE_CHANCE


def _flat(bins: Sequence[Bin], estimate: Estimate, threshold: float, readings: Sequence[HandReading]) -> bool:
    present = [b for b in bins[-int(max(WINDOWS_DAYS) * BINS_PER_DAY) :] if b.gravity is not None]
    if not present:
        fresh = bool(readings) and bins[-1].end_h - readings[-1].hour <= 30.0
        return fresh and 1.0 - decline_of(estimate).chance_of(threshold) >= 0.9
    if sum(b.gravity is not None for b in bins[-4:]) < 2:
        return False
    return any(_steepest(bins, estimate, days) < threshold for days in WINDOWS_DAYS)


def _steepest(bins: Sequence[Bin], estimate: Estimate, days: float) -> float:
    """Upper bound (90 %) on the decline over the window, points/day; infinite where it has too few bins."""
    chosen = [b for b in bins[-int(days * BINS_PER_DAY) :] if b.gravity is not None]
    if len(chosen) < 5 or chosen[-1].end_h - chosen[0].end_h < 12.0 * days:
        return math.inf
    hours = np.array([b.middle_h for b in chosen])
    values = np.array([b.gravity for b in chosen], dtype=np.float64)
    foam = (0.75 * estimate.foam_sd) ** 2
    variances = np.array([b.median_variance for b in chosen]) + foam
    weights = 1.0 / variances
    total = weights.sum()
    days_from_mean = (hours - (hours * weights).sum() / total) / 24.0
    spread = float(weights @ days_from_mean**2)
    level = float((values * weights).sum() / total)
    slope = float(weights @ (days_from_mean * (values - level))) / spread
    misfit = float(weights @ (values - level - slope * days_from_mean) ** 2) / (len(chosen) - 2)
    correlated = float(np.mean((variances + 1.8 * foam) / variances))
    sd = math.sqrt(max(1.0, misfit) * correlated / spread)
    return -slope + ONE_SIDED_90 * sd
