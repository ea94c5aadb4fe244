"""How far a floating probe may read from the beer, before its offset is learnt: the one answer for trend, forecast and
what is left.

Most read a point or so off. One that was never calibrated, or hangs otherwise than it was, may read ten off for good:
held for a good probe, it would be taken for beer that rose, or that drifts back. The original gravity tells it at the
pitch, while nothing has fallen; the hydrometer does where nobody heard it then.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, pairwise
from math import hypot, sqrt

from fermwatch.judgement.facts import Facts
from fermwatch.judgement.kalman import OFFSET_SD, SHARE_MEAN, SHARE_SD, density_effect
from fermwatch.judgement.preprocess import Bin
from fermwatch.judgement.settings import BIN_H
from fermwatch.judgement.stillness import HandReading

PITCH_H = 12.0  # until then hardly any beer has fallen,
FALLS_MOST = 0.6  # points/hour, and none by more
AGREE, AGREE_SHARE = 2.0, 0.25  # points, and of what they are off: two that tell the same of a probe
FAR = 3.0  # standard deviations


@dataclass(frozen=True, slots=True)
class ProbeOffset:
    """sd: of the offset at the pitch, points. since_h: what it said before was said in no beer."""

    sd: float = OFFSET_SD
    since_h: float = 0.0


ORDINARY = ProbeOffset()


@dataclass(frozen=True, slots=True)
class Off:
    """By how many points a bin stands above what it is held against; known to `sd`."""

    one: Bin
    points: float
    sd: float

    @property
    def far(self) -> bool:
        """Whether that is no ordinary offset."""
        return abs(self.points) > FAR * hypot(OFFSET_SD, self.sd, SHARE_SD * density_effect(self.one.temperature_c))

    def tells_as(self, other: "Off") -> bool:
        noise = sqrt(self.one.median_variance + other.one.median_variance)
        return abs(self.points - other.points) <= max(AGREE, AGREE_SHARE * abs(self.points), FAR * noise)


def probe_offset(bins: Sequence[Bin], readings: Sequence[HandReading], pitched: Facts) -> ProbeOffset:
    """What may be expected of the probe. readings: by hand, in time order. pitched: what was known at the pitch."""
    start = _at_pitch(bins, pitched)
    if start is not None and not start.far:
        return ProbeOffset(OFFSET_SD, _since(bins, start))
    last = list(_beside(bins, readings))[-2:]
    told = last[-1] if last and last[0].tells_as(last[-1]) else None
    if start is None:
        return ProbeOffset(abs(told.points)) if told is not None and told.far else ORDINARY
    if told is not None and len(last) > 1 and abs(told.points) < AGREE_SHARE * abs(start.points):
        return ProbeOffset(OFFSET_SD, _since(bins, start))  # the original gravity was mistaken, and not the probe
    return ProbeOffset(abs(start.points), _since(bins, start))


def _at_pitch(bins: Sequence[Bin], pitched: Facts) -> Off | None:
    """The first of which the next says the same: a probe on a table or on its way into the beer does not."""
    heard = [one for one in islice(bins, int(PITCH_H / BIN_H)) if one.gravity is not None]
    off = [Off(one, _fallen_aside(_corrected(one) - pitched.original, one), pitched.original_sd) for one in heard]
    return next((first for first, second in pairwise(off) if first.tells_as(second)), None)


def _since(bins: Sequence[Bin], start: Off) -> float:
    """When it began to be heard in the beer: at the pitch, where nothing before says otherwise."""
    before = any(one.gravity is not None for one in islice(bins, round(start.one.end_h / BIN_H) - 1))
    return start.one.end_h - BIN_H if before else 0.0


def _fallen_aside(off: float, one: Bin) -> float:
    """Below the original gravity, what beer can have fallen by then is no offset."""
    return off if off > 0.0 else min(off + FALLS_MOST * one.middle_h, 0.0)


def _beside(bins: Sequence[Bin], readings: Sequence[HandReading]) -> Iterator[Off]:
    """What was heard within the same three hours as a hydrometer reading."""
    beside = (off_beside(bins, read) for read in readings if read.level_known)
    yield from (off for off in beside if off is not None)


def off_beside(bins: Sequence[Bin], read: HandReading) -> Off | None:
    """What was heard within the same three hours as one; None where nothing was."""
    place = int(read.hour / BIN_H)
    if place >= len(bins) or bins[place].gravity is None:
        return None
    return Off(bins[place], _corrected(bins[place]) - read.gravity, read.sd)


def _corrected(one: Bin) -> float:
    return (one.gravity or 0.0) - SHARE_MEAN * density_effect(one.temperature_c)
