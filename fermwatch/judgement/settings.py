"""What a user may set about judging. No setting lets a probe alone call beer safe for glass."""

from dataclasses import dataclass

BIN_H = 3.0
BIN_DAYS = BIN_H / 24.0
BINS_PER_DAY = 8
WARM_BELOW_RANGE_C = 2.0  # below the yeast's range, and yet it shows what it does


@dataclass(frozen=True, slots=True)
class JudgeSettings:
    """How strict to be. The defaults were measured on simulated batches (`python -m tests.judge`).

    drift_sd: how far a gravity probe may drift, points per day, standard deviation; 0 for a probe shown not to drift.
    still_decline: the decline that must be ruled out at 20 °C, points per day; halves with every 10 °C less.
    still_risk: the chance of such a decline that is still accepted.
    hold_h: how long every gate must be met without a break.
    warm_h: how long the beer must have stood warm.
    fresh_reading_h: how old the last hydrometer reading may be.
    reading_apart: how far a hydrometer reading and the trend may be apart, points.
    latch_days: how long `safe` stands without a fresh reading.
    """

    drift_sd: float = 0.25
    still_decline: float = 0.3
    still_risk: float = 0.03
    hold_h: float = 12.0
    warm_h: float = 72.0
    fresh_reading_h: float = 72.0
    reading_apart: float = 2.5
    latch_days: float = 21.0
