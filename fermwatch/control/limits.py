"""Between which temperatures a target may lie: by what is meant just now, and always within what the user allows."""

import math

from fermwatch.model.batch import EventKind
from fermwatch.model.intent import CRASH_HIGH_C, CRASH_LOW_C, Band, warmest_rest_c
from fermwatch.model.yeast import Yeast


def limits(
    meant: EventKind | None, yeast: Yeast, allowed: Band, *, crash_permitted: bool, from_c: float | None = None
) -> Band | None:
    """Where a target may lie, °C; None where it may lie nowhere, and nothing is to be written or switched.

    meant: the rest, ramp or crash in force; None while it simply ferments. A ramp is the way to where a rest may
    be; one into the cold is a crash, and is to be declared as one.
    allowed: the user's own limits, which nothing widens. crash_permitted: the beer was `safe`, or somebody
    overrode that by name. from_c: where a ramp comes from, which is part of its way.
    Raises ValueError for an event that means no temperature, and for limits that are none.
    """
    if not (math.isfinite(allowed.low_c) and math.isfinite(allowed.high_c)):
        raise ValueError("limits are finite")  # a comparison with what is no number would let everything pass
    low_c, high_c = yeast.temperature_low_c, yeast.temperature_high_c
    if meant is EventKind.CRASH:
        if not crash_permitted:
            return None
        low_c, high_c = CRASH_LOW_C, CRASH_HIGH_C
    elif meant in {EventKind.REST, EventKind.RAMP}:
        high_c = warmest_rest_c(yeast)
    elif meant is not None:
        raise ValueError(f"{meant} means no temperature")
    if from_c is not None:
        low_c, high_c = min(low_c, max(from_c, CRASH_LOW_C)), max(high_c, min(from_c, warmest_rest_c(yeast)))
    low_c, high_c = max(low_c, allowed.low_c), min(high_c, allowed.high_c)
    if low_c > high_c:
        return None
    return Band(low_c, high_c, f"the limits of the {meant or 'fermentation'}")


def within(target_c: float, band: Band) -> bool:
    """Whether a target may be written: it is refused otherwise, never moved to the edge, which nobody asked for."""
    return math.isfinite(target_c) and band.low_c <= target_c <= band.high_c
