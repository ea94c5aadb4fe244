"""Is little enough left? Decided by the posterior of what can still ferment, behind two hydrometer readings."""

from collections.abc import Sequence
from itertools import pairwise

from fermwatch.judgement.limit import falls_all_the_same
from fermwatch.judgement.remaining import Remaining, look
from fermwatch.judgement.settings import BIN_H
from fermwatch.judgement.stillness import Decline, HandReading
from fermwatch.judgement.view import View

MOST_OVER_ONE = 0.2  # the chance that more than one point is left
MOST_OVER_TWO = 0.06  # that more than two are
MOST_CREEPING = 0.015  # that a creep goes on
APART_H, APART_FORCED_H = 40.0, 22.0  # between the two readings, as people who read every evening keep it
NOT_BEFORE_H = 24.0
FRESH_H = 7 * 24.0  # of the last: what it leaves is known better the older it is, but for what creeps
# Points: what falls by more than a division between the two is not done, or half of it in a day.
WITHIN, EQUAL = 1.05, 0.55
# Two that differ by their noise alone will do where a probe, whose drift they tell, has stood still for so long since.
WITHIN_WITNESSED, WITNESS_H, WITNESSED_FRESH_H = 2.05, 40.0, 14 * 24.0
BEFORE_H, SLOWED = 18.0, 0.5  # of the reading before them; the share of its pace that the fall is to have lost
RISEN = 1.55  # points: beer does not rise, so that one of the two is a slip, and neither shows that it stands
HAND_SD = 0.7
TELLS_NO_PACE = 50.0  # points/day
AWAKE_SHARE = 0.4  # of the time between two readings that its yeast must have had, counted in warmth
UNTOLD_SHARE = 0.3  # of the yeast's range


def levels(view: View) -> list[HandReading]:
    """Hydrometer readings of the beer as it is now, since it ferments."""
    return [r for r in view.since_restart() if r.level_known and r.hour > NOT_BEFORE_H]


def apart_h(view: View) -> float:
    """How far apart two readings must be at least, hours."""
    forced = view.facts.forced
    return APART_H if forced is None or forced.short else APART_FORCED_H


def read_twice(view: View) -> tuple[HandReading, HandReading] | None:
    """The last reading, if it is fresh, and the last far enough before it, if the two say the same.

    A reading between them from which the last has fallen speaks against both, and so does a rise.
    """
    read = levels(view)
    if len(read) < 2 or view.hour - read[-1].hour > fresh_h(view):
        return None
    before = [one for one in read if read[-1].hour - one.hour >= apart_h(view)]
    if not before:
        return None
    within = WITHIN if read[-1].hour - before[-1].hour >= APART_H else EQUAL
    if view.probed and view.hour - read[-1].hour >= WITNESS_H:
        within = WITHIN_WITNESSED
    first, last = before[-1], read[-1]
    between = [one for one in read[:-1] if one.hour > first.hour]
    fallen = any(one.gravity - last.gravity > max(within, WITHIN) for one in between)
    risen = last.gravity - first.gravity > RISEN
    goes_on = _goes_on(read, first, last)
    return None if fallen or risen or goes_on or first.gravity - last.gravity > within else (first, last)


def _goes_on(read: Sequence[HandReading], first: HandReading, last: HandReading) -> bool:
    """Whether it falls from the first to the last hardly slower than it did before: a creep, and no end.

    The fall of a beer that ends grows less from reading to reading; one that stood, and falls, has begun again.
    """
    before = [one for one in read if first.hour - one.hour >= BEFORE_H]
    if not before or first.gravity - last.gravity <= EQUAL:
        return False
    earlier, later = (
        (one.gravity - other.gravity) / (other.hour - one.hour) for one, other in pairwise((before[-1], first, last))
    )
    return later > earlier * SLOWED


def fresh_h(view: View) -> float:
    """How old the last of two readings may be, hours: older, where a probe has watched the beer since."""
    return WITNESSED_FRESH_H if view.probed else FRESH_H


def fallen_since(hour: float, view: View) -> bool:
    """Whether the hydrometer says since then that it goes on to fall."""
    read = levels(view)
    before, after = ([one for one in read if (one.hour > hour) is late] for late in (False, True))
    return bool(before) and bool(after) and before[-1].gravity - after[-1].gravity > WITHIN


def enough(found: Remaining) -> bool:
    """Whether so little is left that it may be bottled, as far as the beer goes."""
    small = found.over_one <= MOST_OVER_ONE and found.over_two <= MOST_OVER_TWO
    return small and found.creeping <= MOST_CREEPING


def little_left(view: View) -> bool:
    """Whether it is shown that hardly anything is left. Wild, diastatic and blended beer is never judged so."""
    facts = view.facts
    if facts.diastatic or facts.wild or facts.maltose_negative or facts.blended or read_twice(view) is None:
        return False
    return enough(view.remaining) and not falls_all_the_same(view) and not _may_rest_cold(view)


def pace_of(view: View) -> Decline:
    """How fast it falls, as it is said: where hardly anything is left, what is left tells it best.

    One reading by hand tells how far it came since the pitch, and nothing of how fast it falls now.
    """
    by_hand = [one for one in view.since_restart() if not one.gassy and one.hour > NOT_BEFORE_H]
    if not view.probed and len(by_hand) < 2:
        return Decline(view.decline.points_per_day, max(view.decline.sd, TELLS_NO_PACE))
    return view.remaining.falls if little_left(view) else view.decline


def _may_rest_cold(view: View) -> bool:
    """Cold stops yeast without finishing anything: what reads the same in the cold may only rest.

    Where nobody says how warm it stands, what reads near the least of its range may have been chilled too soon.
    """
    facts, pair = view.facts, read_twice(view)
    if facts.forced is None and not view.probed and pair is not None and _cold_between(view, *pair):
        return True
    return _may_have_been_chilled(view, view.attenuation_read)


def _may_have_been_chilled(view: View, attenuation: float) -> bool:
    facts = view.facts
    least = facts.attenuation_low + UNTOLD_SHARE * (facts.attenuation_high - facts.attenuation_low)
    return not view.clock.warmth_known and facts.forced is None and attenuation < least


def _cold_between(view: View, first: HandReading, last: HandReading) -> bool:
    """Whether the two tell of cold beer: by what is known of its temperature, or by how cold their samples were."""
    if float(view.clock.at(last.hour) - view.clock.at(first.hour)) < AWAKE_SHARE * apart_h(view) / 24.0:
        return True
    return not view.clock.warmth_known and any(view.cold(one.sample_c) for one in (first, last))


def imagined(view: View, gravity: float, *hours: float) -> Remaining:
    """What would be known at the last of these hours, of hydrometer readings that all say so many points."""
    readings = [HandReading("", hour, gravity, HAND_SD, True) for hour in hours]
    known = [*view.since_restart(), *readings]
    return view.look(known, hours[-1])


def would_settle(view: View, gravity: float, *hours: float) -> bool:
    """Whether hydrometer readings at these hours that all say so many points would show that little is left."""
    if _may_have_been_chilled(view, 1.0 - gravity / view.facts.original):
        return False
    return enough(imagined(view, gravity, *hours))


def unread(view: View, hour: float) -> Remaining:
    """What would be known then if nothing more is measured."""
    return view.look(view.since_restart(), hour)


def unread_at(view: View, hour: float) -> Remaining:
    """What was known then, earlier, by what was measured until then."""
    bins = view.bins[: int(hour / BIN_H)]
    known = [one for one in view.since_restart() if one.hour <= hour]
    return look(bins, known, view.facts, view.clock, hour, view.settings.drift_sd, view.probe)
