"""Readings by hand that cannot both be right: one is a slip, and no mean of the two is a gravity."""

from collections.abc import Sequence
from itertools import pairwise
from math import hypot

from fermwatch.judgement.stillness import HandReading

WITHIN_H = 24.0
FASTEST = 30.0  # points/day: no beer falls faster
SURE = 3.0  # standard deviations
LEAST = 3.0  # points


def contradiction(readings: Sequence[HandReading]) -> tuple[HandReading, HandReading] | None:
    """The last two, at most a day apart, that differ by more than beer and instruments do; None where it is settled.

    readings: in time order. A later hydrometer reading that contradicts neither settles what was before it.
    """
    found = None
    for before, after in pairwise(readings):
        if after.hour - before.hour <= WITHIN_H and contradict(before, after):
            found = before, after
        elif found is not None and after.level_known:
            found = None
    return found


def contradict(before: HandReading, after: HandReading) -> bool:
    """Whether one reading, by what beer can do until the other, must be a slip."""
    hours = after.hour - before.hour
    noise = max(SURE * hypot(before.sd, after.sd), LEAST)
    rise = after.gravity - before.gravity
    return rise > noise or -rise > noise + FASTEST * hours / 24.0
