"""The fewest readings that settle it: when the next one with the hydrometer would."""

import math
from bisect import bisect_left
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

from fermwatch.judgement.bottling import VerdictMemory
from fermwatch.judgement.facts import gravity_sg
from fermwatch.judgement.fresh import fresh_level
from fermwatch.judgement.gates import (
    DIASTATIC_APART_DAYS,
    HOPS_DAYS,
    Checked,
    Gate,
    stands_since,
    stood_a_fortnight,
)
from fermwatch.judgement.leftover import apart_h, levels, unread, unread_at, would_settle
from fermwatch.judgement.phase import SLOW_START_GRACE_H, PhaseMemory, life_noted
from fermwatch.judgement.settings import BIN_H
from fermwatch.judgement.stillness import HandReading
from fermwatch.judgement.view import View
from fermwatch.model.amounts import gravity, instant
from fermwatch.model.finding import Phase, VerdictKind

LONGEST_DAYS, DAY_H = 14, 24.0
EVENING_H = 2.0  # before the same hour of another day: people read in the evening, some earlier, some later
READS_ABOVE = (0.0, 0.7)  # points above what is expected: as likely as not, and as its noise may well have it
AGAIN_H, ENOUGH = 24.0, 2  # what such readings do not tell, more of them a day apart do not either
FIRST_CHANCE, FIRST_FORCED = 0.6, 0.75  # that more than one point is left, at the first reading
FALLING_STILL, FALLEN_H = 0.3, 4 * 24.0  # the chance that more than one point of ordinary sugar is left; until it fell
AT_PITCH_H = 6.0  # what is read until then tells of the wort
LATER_H = 5 * 24.0  # until the next, where none before would settle it; ever longer after so many
SOON = 3
# What one reading, if it agrees, meets or leaves to the clock alone.
READING_MEETS = {Gate.READING, Gate.STILL, Gate.ATTENUATION, Gate.WARM, Gate.AGREEING}
OPEN = {
    Gate.PACKAGE: "which package",
    Gate.ORIGINAL: "what it began at",
    Gate.STALL: "why it stalled",
    Gate.HOPS: "the days after the dry hops",
    Gate.LAGER: "its warm rest",
    Gate.CREEP: "whether it creeps",
    Gate.YEAST: "what its yeast does later",
    Gate.WARM: "how warm it stands",
}
WITHIN_REACH = 0.05  # of apparent attenuation, before the least that the yeast reaches


@dataclass(frozen=True, slots=True)
class Asked:
    """settles_h: when it, or one after it, may settle the verdict at the earliest; None where nothing tells."""

    hour: float
    why: str
    settles_h: float | None = None


def next_reading(view: View, said: VerdictMemory, phase: PhaseMemory, gates: Sequence[Checked]) -> Asked | None:
    """When to read the hydrometer next; None where no reading would settle anything."""
    unmet = {checked.gate for checked in gates if not checked.met}
    if said.kind is VerdictKind.SAFE or Gate.YEAST in unmet or view.facts.packaged_h is not None:
        return None
    if said.kind is VerdictKind.HOLD:
        return _while_held(view, said, phase.phase)
    if not any(checked.readable for checked in gates if not checked.met):
        return None  # only time, or what no reading answers, is asked for
    if any(checked.gate is Gate.PACKAGE and not checked.readable for checked in gates):
        return None  # another package is asked for
    if (start := _whether_started(view, phase.phase)) is not None:
        return start
    if _too_early(view, phase.phase):
        return None
    if said.kind is VerdictKind.CONFIRM and unmet & {Gate.READING, Gate.STILL}:
        due_h = _due(said, view)
        return Asked(due_h, f"One that reads near {_sg(view.gravity)} may settle it{_but_for(unmet, view)}.", due_h)
    return _next(view, unmet) if levels(view) else _first(view, unmet)


def _while_held(view: View, said: VerdictMemory, phase: Phase) -> Asked | None:
    """What is wrong is found out by the hydrometer; one just taken has told its part."""
    read = levels(view)
    if read and view.went_beyond and fresh_level(view) is not None:
        if stood_a_fortnight(view):
            return None  # a package that takes what may still creep is asked for
        return _creep_told(view, read, (), view.hour)
    due_h = _due(said, view)
    if view.probe_contradicts and read:
        return Asked(due_h, "The last one and the probe contradict each other: a second tells which is at fault.")
    if read and phase is Phase.STALLED and read[-1].hour >= said.since_h - BIN_H:
        return Asked(read[-1].hour + LATER_H, "It tells whether it has gone on.")
    return Asked(due_h, "It tells whether the beer or the probe is at fault.")


def _next(view: View, unmet: Collection[Gate]) -> Asked:
    """After the first: as soon as another settles it, and never later than some days after the last."""
    read, from_h = levels(view), _not_before_h(view, unmet)
    now_h = max(view.hour, from_h)
    again_h = max(read[-1].hour + LATER_H * max(1, len(read) - SOON), now_h)
    if Gate.CREEP in unmet:
        return _creep_told(view, read, unmet, now_h)
    expected = view.remaining.gravity if view.probed else read[-1].gravity
    hour = _settles_at(view, read[-1].hour, expected, from_h)
    if hour is None or hour > again_h:
        return Asked(again_h, "It tells how far the beer has come.", hour or again_h + apart_h(view))
    most = _at_most(view, hour)
    then = f"near {_sg(expected)}" if most is None else f"{_sg(most)} or less"
    return Asked(hour, f"One that reads {then} may settle it{_but_for(unmet, view)}.", hour)


def _not_before_h(view: View, unmet: Collection[Gate]) -> float:
    """From when a reading counts: of beer that was dry hopped, once the hops have freed what they free."""
    hopped_h = view.facts.last_hops_h
    return 0.0 if Gate.HOPS not in unmet or hopped_h is None else hopped_h + HOPS_DAYS * 24.0


def _creep_told(view: View, read: Sequence[HandReading], unmet: Collection[Gate], now_h: float) -> Asked:
    """One that says the same, far enough from the first that did; but nothing counts from one that was taken while
    ordinary sugars still fell: then one at their end comes first."""
    last = read[-1]
    if unread_at(view, last.hour).over_one > FALLING_STILL:
        hour = max(last.hour + FALLEN_H, now_h)
        days = f"{DIASTATIC_APART_DAYS:.0f} days"
        why = f"From it on it must stand still for {days}, which shows whether it creeps."
        return Asked(hour, why, hour + DIASTATIC_APART_DAYS * DAY_H)
    hour = max(stands_since(read).hour + DIASTATIC_APART_DAYS * DAY_H, now_h)
    return Asked(hour, f"It tells whether it creeps{_but_for(unmet, view)}.", hour)


def _first(view: View, unmet: Collection[Gate]) -> Asked | None:
    """The first is worth its beer once it is about as likely as not that the beer is done."""
    forced = view.facts.forced is not None and not view.facts.forced.short
    chance = FIRST_FORCED if forced else FIRST_CHANCE
    from_h = _not_before_h(view, unmet)
    hour = _evening(0.0, DAY_H, view.hour, from_h, lambda hour: unread(view, hour).over_one <= chance)
    if hour is None:
        return None
    again_h = hour + DAY_H * math.ceil(apart_h(view) / DAY_H)
    most = _at_most(view, hour, again_h)
    if most is None:
        return Asked(hour, "It tells how far the beer has come.", again_h)
    again = f"another on {instant(view.facts.at(again_h))} that says the same may settle it{_but_for(unmet, view)}"
    return Asked(hour, f"If it reads {_sg(most)} or less, {again}.", again_h)


def _at_most(view: View, *hours: float) -> float | None:
    """The highest gravity, whole points, that readings at these hours may say to settle it; None where none would."""
    highest = min([view.facts.highest_end, *(one.gravity + 1.0 for one in levels(view)[-1:])])
    down = range(int(highest), int(view.facts.lowest_end) - 1, -1)
    return next((float(points) for points in down if would_settle(view, float(points), *hours)), None)


def _settles_at(view: View, last_h: float, gravity: float, from_h: float) -> float | None:
    """The first time at which one reading that agrees may well show that little is left."""

    def settles(hour: float) -> bool:
        return any(would_settle(view, gravity + above, hour) for above in READS_ABOVE)

    return _evening(last_h, apart_h(view), view.hour, from_h, settles)


def _evening(
    since_h: float, least_h: float, now_h: float, from_h: float, holds: Callable[[float], bool]
) -> float | None:
    """The first of the same hours of the day at which it holds, as it goes on to do; None where not within two weeks.

    One that has come today is due since then, and not anew at every look. since_h: the last reading, or the pitch.
    from_h: before it no reading counts.
    """
    now_h = max(now_h, from_h)
    first = max(math.ceil(least_h / DAY_H), math.floor((now_h - since_h + EVENING_H) / DAY_H))
    hours = [since_h + DAY_H * day for day in range(first, first + LONGEST_DAYS)]
    place = bisect_left(hours, True, key=lambda hour: holds(max(hour, now_h)))
    return max(hours[place] - EVENING_H, from_h) if place < len(hours) else None


def _due(said: VerdictMemory, view: View) -> float:
    """Due since it was first asked for, so that nobody is asked anew at every look; the next, a day after
    the last, and later once there are enough."""
    since = [reading.hour for reading in view.readings if reading.level_known and reading.hour >= said.since_h - BIN_H]
    if not since:
        return said.since_h
    return since[-1] + (AGAIN_H if len(since) < ENOUGH else LATER_H)


def _sg(points: float) -> str:
    return gravity(gravity_sg(points))


def _but_for(unmet: Collection[Gate], view: View) -> str:
    """What a reading cannot settle, so that nobody believes it does."""
    met_by_it = READING_MEETS if view.facts.package is None else READING_MEETS | {Gate.PACKAGE}
    besides = [gate for gate in OPEN if gate in unmet and gate not in met_by_it]
    if Gate.WARM in unmet and not view.known_temperatures(view.settings.warm_h):
        besides.append(Gate.WARM)
    return f"; still open besides: {', '.join(OPEN[gate] for gate in besides)}" if besides else ""


def _whether_started(view: View, phase: Phase) -> Asked | None:
    """Past its longest lag, where a reading by hand left open whether it has begun, and nothing else tells: at once.

    Of beer that nobody read, signs of life are asked for, which cost no beer.
    """
    since = [one for one in view.readings if one.hour > AT_PITCH_H]
    if phase not in {Phase.LAG, Phase.NOT_STARTED} or view.probed or not since or life_noted(view):
        return None
    last, due_h = since[-1], view.facts.lag_max_h + SLOW_START_GRACE_H
    if phase is Phase.NOT_STARTED:
        due_h = last.hour + AGAIN_H
    if view.hour < due_h:
        return None
    gassy = ": the last had gas in it, which lifts the hydrometer" if last.gassy else ""
    return Asked(max(due_h, last.hour), f"It tells whether it has started{gassy}.")


def _too_early(view: View, phase: Phase) -> bool:
    """While a probe tells that the end is out of reach. Without one the days alone say when that is over."""
    if phase is Phase.NOT_STARTED:
        return True
    if phase not in {Phase.LAG, Phase.ACTIVE}:
        return False
    far = view.attenuation < view.facts.attenuation_low - WITHIN_REACH
    return far and view.probed
