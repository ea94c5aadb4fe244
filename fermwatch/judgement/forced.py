"""A forced ferment: what a sample that was kept warm shows of its beer, and what only looks like one.

It is the one thing that may stand in for waiting, so that it counts only where it can be one: kept warm, long enough
after the yeast went in, and ended where its yeast ends. All else is kept as it was said, and counts for nothing.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fermwatch.model.amounts import gravity, points, temperature, temperature_range

KEPT_LEAST_C, KEPT_MOST_C = 24.0, 27.0
THERMOMETER_C = 0.5
LEAST_H = 48.0  # from the pitch, or from what was added last, until it is read: no sample ends sooner
AGAIN_H = 22.0  # a day, as people who read every evening keep it
AGREE = 0.55  # points: half a division of an ordinary hydrometer, and what correcting for temperature moves
SHORT_MOST = 0.05  # of apparent attenuation below the least of its yeast: further off it has stalled as the beer has
BEYOND = 0.08  # above the most of its yeast: what else ferments there does not in the beer, or it was misread
MARGIN, OTHER_YEAST_MARGIN = 1.5, 2.5


@dataclass(frozen=True, slots=True)
class Result:
    """What was said of a sample: when it was read, where it ended in points, at how many °C it was kept."""

    hour: float
    gravity: float
    same_yeast: bool = True
    kept_c: float | None = None


@dataclass(frozen=True, slots=True)
class ForcedFerment:
    """The limit of attenuation, found on a sample.

    short: it ended before the least that its yeast does, as wort of a full-bodied beer may. Then it says that this is
    an end, and takes the place of nothing else.
    """

    hour: float
    gravity: float
    margin: float
    short: bool = False


@dataclass(frozen=True, slots=True)
class Wort:
    """original: points. low, high: the apparent attenuation that its yeast reaches. since_h: pitched, or last added
    to."""

    original: float
    low: float
    high: float
    since_h: float = 0.0

    def attenuation(self, gravity_points: float) -> float:
        return (self.original - gravity_points) / max(self.original, 1.0)


def counted(results: Sequence[Result], wort: Wort) -> tuple[ForcedFerment | None, str]:
    """What the results show, given in time order, and why the last of them counts for nothing; empty where it counts.

    One that counts stands, whatever is said after it that does not.
    """
    found, doubt = None, ""
    for place, result in enumerate(results):
        doubt = why_not(result, results[:place], wort)
        if not doubt:
            margin = MARGIN if result.same_yeast else OTHER_YEAST_MARGIN
            found = ForcedFerment(result.hour, result.gravity, margin, wort.attenuation(result.gravity) < wort.low)
    return found, doubt


def why_not(result: Result, before: Iterable[Result], wort: Wort) -> str:
    """Why it does not count, a sentence or two; empty where it does."""
    return _not_kept(result, wort) or _not_its_end(result, before, wort)


def _not_kept(result: Result, wort: Wort) -> str:
    warm = temperature_range(KEPT_LEAST_C, KEPT_MOST_C)
    if result.kept_c is None:
        return f"It is not said how warm the sample was kept (--kept-at): it counts only if that was {warm}."
    if not KEPT_LEAST_C - THERMOMETER_C <= result.kept_c <= KEPT_MOST_C + THERMOMETER_C:
        return f"The sample was kept at {temperature(result.kept_c, None)}: it counts only at {warm}."
    if result.hour - wort.since_h < LEAST_H:
        what = "the pitch" if wort.since_h <= 0.0 else "something was added"
        hours = max(result.hour - wort.since_h, 0.0)
        return f"It was read {hours:.0f} h after {what}: no sample has ended before {LEAST_H:.0f} h."
    return ""


def _not_its_end(result: Result, before: Iterable[Result], wort: Wort) -> str:
    at, reached = gravity(1.0 + result.gravity / 1000.0, 4), wort.attenuation(result.gravity)
    expected = f"its yeast reaches {wort.low:.0%} to {wort.high:.0%}"
    if result.gravity >= wort.original:
        return f"{at} is no less than the original gravity: nothing has fermented in that sample."
    if reached > wort.high + BEYOND:
        return f"{at} is an apparent attenuation of {reached:.0%}, and {expected}: it is another ferment, or misread."
    if reached >= wort.low:
        return ""
    short = f"{at} is an apparent attenuation of {reached:.0%}, and {expected}"
    if reached < wort.low - SHORT_MOST:
        return (
            f"{short}: so far short, a sample has stopped as a beer may stop, and shows no end. Rouse it, add fresh, "
            "active yeast, and read it again."
        )
    if not result.same_yeast:
        return f"{short}: so short it counts only with the same yeast."
    if not any(_agree(earlier, result, wort) for earlier in before):
        return (
            f"{short}: so short it counts only once a reading of the sample a day later agrees within "
            f"{points(AGREE, 1)}. Note that one too."
        )
    return ""


def _agree(earlier: Result, later: Result, wort: Wort) -> bool:
    apart = abs(earlier.gravity - later.gravity)
    kept = earlier.same_yeast and not _not_kept(earlier, wort)
    return kept and later.hour - earlier.hour >= AGAIN_H and apart <= AGREE and math.isfinite(apart)
