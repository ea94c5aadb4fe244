"""What a forced ferment shows of the beer: whether it stands where its own wort ends, and whether that settles it."""

from dataclasses import dataclass
from math import hypot

from fermwatch.judgement.stillness import HandReading, decline_of
from fermwatch.judgement.view import View

APART_H = 22.0  # a day, as people who read every evening keep it
EQUAL = 0.55  # points: half a division of an ordinary hydrometer, and what correcting for temperature moves
NEARER = 0.3  # points: what settles it stands so much nearer to the limit than what only reaches it
BEYOND = 1.0  # points below the limit, over its margin: then the sample had not ended
FALLS_ALL_THE_SAME, FALLS_CHANCE = 0.3, 0.3  # points/day


@dataclass(frozen=True, slots=True)
class Pair:
    """Two hydrometer readings that say the same, a day or more apart."""

    first: HandReading
    last: HandReading

    @property
    def gravity(self) -> float:
        return (self.first.gravity + self.last.gravity) / 2.0

    @property
    def sd(self) -> float:
        """Of that mean, points."""
        return hypot(self.first.sd, self.last.sd) / 2.0


def at_limit(view: View, gravity: float) -> bool:
    """Whether this gravity, in points, is the end that a valid forced ferment found."""
    forced = view.facts.forced
    return forced is not None and -forced.margin - BEYOND <= gravity - forced.gravity <= forced.margin


def holds(view: View) -> bool:
    """Whether a valid forced ferment shows that the beer is at its limit."""
    return at_limit(view, view.shown_gravity)


def ends_as_its_yeast_does(view: View) -> bool:
    """The same, and within its yeast's range, so that it may stand in for waiting as well."""
    return holds(view) and view.facts.forced is not None and not view.facts.forced.short


def falls_all_the_same(view: View) -> bool:
    """Whether a probe says that it falls, whatever readings by hand say."""
    return view.probed and decline_of(view.estimate).chance_of(FALLS_ALL_THE_SAME) > FALLS_CHANCE


def settled(view: View) -> Pair | None:
    """Two equal hydrometer readings at the limit: what nothing is left in cannot fall, still or warm or not.

    The last is fresh, no reading between them says otherwise, and no probe says that it falls all the same. A forced
    ferment that ended short settles nothing: the beer must be shown to be still and warm beside it.
    """
    levels = [reading for reading in view.since_restart() if reading.level_known]
    if view.facts.forced is None or view.facts.forced.short or not levels or not at_limit(view, levels[-1].gravity):
        return None
    last = levels[-1]
    if falls_all_the_same(view) or view.hour - last.hour > view.settings.fresh_reading_h:
        return None
    for place in range(len(levels) - 2, -1, -1):
        first = levels[place]
        if abs(first.gravity - last.gravity) > EQUAL:
            return None
        pair = Pair(first, last)
        if last.hour - first.hour >= APART_H:
            return pair if at_limit(view, pair.gravity + NEARER) else None
    return None
