"""How long beer takes to condition in its package, and how long it stays fresh.

All figures are common practice: bottles of an ale condition at 18 to 24 °C in 10 to 21 days, of a lager in 3 to 4
weeks, of strong beer in 4 to 8; hopped pale ale is at its best for 4 to 8 weeks, an ordinary ale for 3 to 4 months, a
lager for 3 to 6, strong beer for a year and more; each 10 °C more cut that to a half or a third. (On refermentation in
the bottle: Beverages 2020, 6(3):56.) The pace at another temperature is the thermal time that fermentation is judged
by: twofold per 10 °C, and next to nothing far below the yeast's range.
"""

from dataclasses import dataclass
from enum import StrEnum

FASTEST = 1.5  # conditioning cannot be hurried more by warmth
SLOWEST = 0.03
SLUGGISH_BELOW_RANGE_C = 7.0  # where yeast all but sleeps
SLUGGISH_WIDTH_C = 4.0
FRESHNESS_AT_C = 20.0  # that the freshness figures hold at: a room
STALING_PER_10_C = 2.5  # between a half and a third
LONGEST_KEEPING = 2.0  # times its figure, however cold it stands
STRONG_FROM_SG = 1.075  # of original gravity
SQUEEZE_DAYS = (3.0, 7.0, 14.0)
FORCED_DAYS = (7.0, 14.0)  # a keg at its pressure


class Keeping(StrEnum):
    """A kind of beer, as far as its keeping goes."""

    ALE = "ale"
    HOPPED = "dry-hopped ale"
    LAGER = "lager"
    STRONG = "strong beer"
    WILD = "beer with wild yeast"


@dataclass(frozen=True, slots=True)
class Figures:
    """Days at the reference temperatures. open: when the first is worth opening; ripe: when it is at its best."""

    open_days: float
    ripe_days: float
    fresh_days: float


FIGURES = {
    Keeping.ALE: Figures(14.0, 21.0, 120.0),
    Keeping.HOPPED: Figures(14.0, 14.0, 56.0),
    Keeping.LAGER: Figures(21.0, 28.0, 180.0),
    Keeping.STRONG: Figures(28.0, 56.0, 540.0),
    Keeping.WILD: Figures(28.0, 56.0, 540.0),
}


def keeping_of(original_sg: float, *, lager: bool, dry_hopped: bool, wild: bool) -> Keeping:
    """What its keeping follows: hops fade first, whatever else it is."""
    if dry_hopped:
        return Keeping.HOPPED
    if wild:
        return Keeping.WILD
    if original_sg >= STRONG_FROM_SG:
        return Keeping.STRONG
    return Keeping.LAGER if lager else Keeping.ALE


def pace(temperature_c: float, reference_c: float, yeast_low_c: float) -> float:
    """Days of conditioning at the reference temperature that one day at this one is worth."""
    asleep = yeast_low_c - SLUGGISH_BELOW_RANGE_C
    awake = min(max((temperature_c - asleep) / SLUGGISH_WIDTH_C, SLOWEST), 1.0)
    warmth: float = 2.0 ** ((temperature_c - reference_c) / 10.0)
    return max(min(warmth * awake, FASTEST), 0.01)


def staling(temperature_c: float) -> float:
    """Days of keeping at 20 °C that one day at this temperature costs."""
    warmth: float = STALING_PER_10_C ** ((temperature_c - FRESHNESS_AT_C) / 10.0)
    return max(warmth, 1.0 / LONGEST_KEEPING)
