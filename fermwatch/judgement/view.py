"""All that one look at a batch rests on, at the end of one bin."""

from collections.abc import Sequence
from dataclasses import dataclass

from fermwatch.judgement.facts import Facts
from fermwatch.judgement.kalman import GRAVITY, Estimate
from fermwatch.judgement.preprocess import Bin
from fermwatch.judgement.settings import BINS_PER_DAY, JudgeSettings
from fermwatch.judgement.stillness import Decline, HandReading, decline_by_hand, decline_of

STRICTER = 2.0 / 3.0  # of the decline allowed, where the yeast may still creep
COLDEST_SHARE = 2.0 / 3.0  # measured: with less, half of the lagers without a warm rest are never shown to be still


@dataclass(frozen=True, slots=True)
class View:
    """bins, readings: all until now, in time order. apart: the last hydrometer reading minus the trend then."""

    hour: float
    bins: Sequence[Bin]
    readings: Sequence[HandReading]
    estimate: Estimate
    facts: Facts
    settings: JudgeSettings
    apart: float = 0.0

    @property
    def gravity(self) -> float:
        return self.estimate.gravity

    @property
    def gravity_sd(self) -> float:
        return self.estimate.sd(GRAVITY)

    @property
    def temperature_c(self) -> float:
        return self.bins[-1].temperature_c

    @property
    def day_temperature_c(self) -> float:
        """Mean of the last 24 h."""
        last = self.bins[-BINS_PER_DAY:]
        return sum(b.temperature_c for b in last) / len(last)

    @property
    def probed(self) -> bool:
        """Whether a probe told gravity in the last two days."""
        return any(b.gravity is not None for b in self.bins[-2 * BINS_PER_DAY :])

    @property
    def fallen(self) -> float:
        return self.facts.original - self.gravity

    @property
    def attenuation(self) -> float:
        return self.facts.attenuation(self.gravity)

    @property
    def attenuation_sd(self) -> float:
        return self.gravity_sd / max(self.facts.original, 1.0)

    @property
    def still_limit(self) -> float:
        """The decline to be ruled out: what is small at 20 °C is not small at 8."""
        strict = STRICTER if self.facts.diastatic or self.facts.wild or self.above_range(0.5) else 1.0
        warmth = min(1.0, max(COLDEST_SHARE, 2.0 ** ((self.day_temperature_c - 20.0) / 10.0)))
        return self.settings.still_decline * strict * float(warmth)

    @property
    def decline(self) -> Decline:
        """The trend's, or the hand readings' own line where that says more and no probe is there."""
        trend = decline_of(self.estimate)
        if self.probed:
            return trend
        limit = self.still_limit
        hand = decline_by_hand(self.since_restart(), limit)
        return hand if hand is not None and hand.chance_of(limit) < trend.chance_of(limit) else trend

    def since_restart(self) -> list[HandReading]:
        """Hand readings after the last event that changed the beer."""
        start = self.facts.last_restart_h
        return [reading for reading in self.readings if start is None or reading.hour >= start]

    def above_range(self, probability: float, margin: float = 0.0) -> bool:
        """Whether the attenuation exceeds the highest expected, with this probability, by more than `margin`."""
        shift = {0.5: 0.0, 0.9: 1.2816}[probability] * self.attenuation_sd
        return self.attenuation - shift > self.facts.attenuation_high + margin
