"""All that one look at a batch rests on, at the end of one bin."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import islice
from typing import overload

from fermwatch.brewing.attenuation import attenuated
from fermwatch.judgement.added import Added
from fermwatch.judgement.facts import Facts
from fermwatch.judgement.kalman import GRAVITY, OFFSET, OFFSET_SD, Estimate
from fermwatch.judgement.preprocess import Bin, probe_heard
from fermwatch.judgement.probe_offset import ORDINARY, ProbeOffset, off_beside
from fermwatch.judgement.remaining import Remaining, ThermalClock, clock_of, look
from fermwatch.judgement.settings import BIN_H, BINS_PER_DAY, WARM_BELOW_RANGE_C, JudgeSettings
from fermwatch.judgement.stillness import Decline, HandReading, decline_by_hand, decline_of

STRICTER = 2.0 / 3.0  # of the decline allowed, where the yeast may still creep
COLDEST_SHARE = 2.0 / 3.0  # measured: with less, half of the lagers without a warm rest are never shown to be still
FRESH_H = 6.0  # what was measured within these hours speaks of now, whatever the beer does
MOVED_MOST = 2.0  # points: and what is older does while the beer has hardly moved since,
KNOWN_SD = 2.0  # and is known so well
READING_SD = 0.7
OFFSET_WORTH_SAYING = 2.0  # points
ONE_SIDED_95 = 1.645


@dataclass(frozen=True, slots=True)
class Measured:
    """The last gravity measured: when, what it read in points, by what, and what was concluded for that hour.

    original: points, with what was added until then. reading: of somebody's own, with a level that is known.
    """

    hour: float
    gravity: float
    by: str
    concluded: float
    original: float
    reading: HandReading | None = None


def last_measured(
    before: Measured | None,
    latest: Bin,
    readings: Sequence[HandReading],
    estimate: Estimate,
    original_at: Callable[[float], float],
) -> Measured | None:
    """What was measured last, after the bin `latest`. original_at: points, with what was added until an hour."""
    found = before
    if latest.gravity is not None:
        hour = latest.end_h if latest.last_h is None else latest.last_h
        found = Measured(hour, latest.gravity, "probe", _at(hour, latest, estimate), original_at(hour))
    if readings and readings[-1].hour >= max(latest.end_h - BIN_H, found.hour if found else 0.0):
        last = readings[-1]
        concluded, level = _at(last.hour, latest, estimate), last if last.level_known else None
        found = Measured(last.hour, last.gravity, last.instrument, concluded, original_at(last.hour), level)
    return found


def _at(hour: float, latest: Bin, estimate: Estimate) -> float:
    """Gravity at an hour of the bin that the estimate ends: beer only falls."""
    return estimate.gravity - min(estimate.rate, 0.0) * max(latest.end_h - hour, 0.0) / 24.0


class FirstBins(Sequence[Bin]):
    """The first `count` of a batch's bins, which all its views share: a copy for each would grow with the square."""

    def __init__(self, bins: Sequence[Bin], count: int) -> None:
        self._bins, self._count = bins, count

    def __len__(self) -> int:
        return self._count

    def __iter__(self) -> Iterator[Bin]:
        return islice(self._bins, self._count)

    @overload
    def __getitem__(self, place: int) -> Bin: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Bin]: ...
    def __getitem__(self, place: int | slice) -> Bin | Sequence[Bin]:
        if isinstance(place, slice):
            return self._bins[slice(*place.indices(self._count))]
        return self._bins[range(self._count)[place]]


@dataclass(frozen=True)
class View:
    """All until now, in time order. What is reckoned from it is kept: many ask for the same.

    apart: the last hydrometer reading minus the trend then. measured: the last gravity measured, None before the first.
    heard_since_h: when the first gravity was heard that no bin holds yet, where none was before.
    added: sugar that went in, if any did. probe: how far off it may have read at the pitch.
    """

    hour: float
    bins: Sequence[Bin]
    readings: Sequence[HandReading]
    estimate: Estimate
    facts: Facts
    settings: JudgeSettings
    apart: float = 0.0
    measured: Measured | None = None
    heard_since_h: float | None = None
    added: Added | None = None
    probe: ProbeOffset = ORDINARY

    @property
    def added_left(self) -> float:
        """What of the sugar that went in may still ferment, points."""
        measured_h = None if self.measured is None else self.measured.hour
        return 0.0 if self.added is None else self.added.left(measured_h, self.shown_gravity)

    @cached_property
    def speaks_of_now(self) -> bool:
        """Whether what was measured is fresh enough to say what the beer does now."""
        if self.measured is None:
            return False
        days = (self.hour - self.measured.hour) / 24.0
        if days * 24.0 <= FRESH_H:
            return True
        moves = self.decline
        return abs(moves.points_per_day) * days <= MOVED_MOST and math.hypot(READING_SD, moves.sd * days) <= KNOWN_SD

    @cached_property
    def shown_gravity(self) -> float:
        """As far down as measurements show: what the beer may have fallen unseen counts for nothing."""
        return self.gravity if self.measured is None else max(self.gravity, self.measured.concluded)

    @cached_property
    def gravity(self) -> float:
        """Points: the estimate, within what beer can have done since it was last measured.

        It cannot have fallen below what its yeast can reach, unless it was there already, and it does not rise.
        """
        last = self.measured
        if last is None:
            return self.facts.original
        changed_h = self.facts.last_restart_h
        most = last.concluded if changed_h is None or changed_h <= last.hour else math.inf
        return min(max(self.estimate.gravity, min(self.facts.lowest_end, last.concluded)), most)

    @cached_property
    def gravity_sd(self) -> float:
        return self.estimate.sd(GRAVITY)

    @property
    def temperature_c(self) -> float:
        return self.bins[-1].temperature_c

    @cached_property
    def day_temperature_c(self) -> float:
        """Mean of the last 24 h."""
        last = self.bins[-BINS_PER_DAY:]
        return sum(b.temperature_c if (said := self.known_c(b)) is None else said for b in last) / len(last)

    def known_c(self, one: Bin) -> float | None:
        """How warm it was then: by its thermometer, else as somebody said that it stands; None where nothing tells."""
        if one.temperature_known:
            return one.temperature_c
        stood = (s.celsius for s in reversed(self.facts.stood) if s.since_h <= one.middle_h <= s.until_h)
        return next(stood, None)

    def cold(self, celsius: float | None) -> bool:
        """Whether its yeast would hardly show anything at that."""
        return celsius is not None and celsius < self.facts.temperature_low_c - WARM_BELOW_RANGE_C

    def known_temperatures(self, hours: float) -> list[float]:
        """Of the bins of the last hours of which it is known."""
        recent = self.bins[-int(hours / BIN_H) :]
        return [celsius for one in recent if (celsius := self.known_c(one)) is not None]

    @cached_property
    def probed(self) -> bool:
        """Whether a probe told gravity in the last two days."""
        return probe_heard(self.bins)

    @cached_property
    def probe_apart(self) -> float:
        """Points by which the probe read above the last hydrometer reading, within the same three hours; where it was
        silent then, by which the trend does."""
        level = self.level
        beside = None if level is None else off_beside(self.bins, level)
        return -self.apart if beside is None else beside.points

    @property
    def went_beyond(self) -> bool:
        """Whether it went further than its yeast should: not where the probe alone says so, against the hydrometer."""
        return self.above_range(0.9) and (self.beyond_by_hand or not self.probe_contradicts)

    @property
    def beyond_by_hand(self) -> bool:
        """Whether the hydrometer itself says that."""
        return self.level is not None and self.facts.attenuation(self.level.gravity) > self.facts.attenuation_high

    @property
    def probe_contradicts(self) -> bool:
        """Whether the hydrometer and a probe are further apart than they may be."""
        return self.probed and abs(self.apart) > self.settings.reading_apart

    @property
    def fallen(self) -> float:
        return self.facts.original - self.gravity

    @cached_property
    def attenuation(self) -> float:
        """Apparent attenuation, as far as measurements show it."""
        return self.facts.attenuation(self.shown_gravity)

    @property
    def rests_on(self) -> HandReading | None:
        """The reading that the attenuation is told of: the last of all, or where no probe is heard the last of its
        kind since the beer was changed. None where it is the trend's."""
        last = None if self.measured is None else self.measured.reading
        return last if last is not None or self.probed else self.level

    @property
    def attenuation_read(self) -> float:
        """The same by that reading alone, and from the original gravity that held then: as a person reckons it."""
        reading, last = self.rests_on, self.measured
        if reading is None or last is None:
            return self.attenuation
        original = last.original if last.reading is reading else self.facts.original
        share = attenuated(1.0 + original / 1000.0, 1.0 + reading.gravity / 1000.0)
        return self.attenuation if share is None else share

    @property
    def level(self) -> HandReading | None:
        """The last reading by hand that tells how far the beer has come: gas and a refractometer's bias do not."""
        return next((reading for reading in reversed(self.since_restart()) if reading.level_known), None)

    @property
    def said_sd(self) -> float:
        """Standard deviation of gravity, points, no wider than what the beer can have done since it was measured."""
        last = self.measured
        if last is None or self.speaks_of_now:
            return self.gravity_sd
        return min(self.gravity_sd, max(last.concluded - self.facts.lowest_end, 0.0) / 2.0 + READING_SD)

    @property
    def attenuation_sd(self) -> float:
        return self.gravity_sd / max(self.facts.original, 1.0)

    @cached_property
    def still_limit(self) -> float:
        """The decline to be ruled out: what is small at 20 °C is not small at 8."""
        strict = STRICTER if self.facts.diastatic or self.facts.wild or self.above_range(0.5) else 1.0
        warmth = min(1.0, max(COLDEST_SHARE, 2.0 ** ((self.day_temperature_c - 20.0) / 10.0)))
        return self.settings.still_decline * strict * float(warmth)

    @cached_property
    def decline(self) -> Decline:
        """The trend's, or the hand readings' own line where that says more and no probe is there."""
        trend = decline_of(self.estimate)
        if self.probed:
            return trend
        limit = self.still_limit
        hand = decline_by_hand(self.since_restart(), limit)
        return hand if hand is not None and hand.chance_of(limit) < trend.chance_of(limit) else trend

    @property
    def clock(self) -> ThermalClock:
        """Thermal time until now. Not kept: of every step it would grow with the square."""
        return clock_of([self.known_c(one) for one in self.bins], self.facts)

    @cached_property
    def remaining(self) -> Remaining:
        """What is left to ferment, by all that was measured since the beer was changed."""
        return self.look(self.since_restart(), self.hour)

    def look(self, readings: Sequence[HandReading], hour: float) -> Remaining:
        """What would be left at an hour, of these readings by hand and of what the probe has said until now."""
        drift_sd = self.settings.drift_sd
        return look(self.bins, readings, self.facts, self.clock, hour, drift_sd, self.probe)

    @cached_property
    def probe_off(self) -> float:
        """How many points the probe reads above the beer, by the hydrometer or from the pitch on; 0 where nobody would
        wonder at it."""
        offset, sd = float(self.estimate.mean[OFFSET]), self.estimate.sd(OFFSET)
        told = self.read_by_hand or self.probe.sd > OFFSET_SD
        worth_saying = abs(offset) >= max(OFFSET_WORTH_SAYING, ONE_SIDED_95 * sd)
        return offset if self.probed and told and worth_saying else 0.0

    @property
    def read_by_hand(self) -> bool:
        """Whether a hydrometer told how far the beer had come."""
        return any(reading.level_known for reading in self.readings)

    def since_restart(self) -> list[HandReading]:
        """Hand readings after the last event that changed the beer."""
        start = self.facts.last_restart_h
        return [reading for reading in self.readings if start is None or reading.hour >= start]

    def above_range(self, probability: float, margin: float = 0.0) -> bool:
        """Whether the attenuation exceeds the highest expected, with this probability, by more than `margin`."""
        shift = {0.5: 0.0, 0.9: 1.2816}[probability] * self.attenuation_sd
        return self.attenuation - shift > self.facts.attenuation_high + margin
