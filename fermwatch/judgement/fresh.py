"""The readings that the level rests on: which is fresh, and why there is none."""

from fermwatch.judgement import limit
from fermwatch.judgement.leftover import fresh_h, little_left
from fermwatch.judgement.settings import BIN_H, BINS_PER_DAY
from fermwatch.judgement.stillness import HandReading
from fermwatch.judgement.view import View
from fermwatch.model.amounts import gravity, instant

HAND_ONLY_FRESH_H = 30.0
LEAST_HEARD_H = 9.0  # of a day, in bins with a reading of the probe
LEVEL_FRESH_DAYS = 14.0


def shown_sg(read: HandReading) -> str:
    return gravity(1.0 + read.gravity / 1000.0, 4)


def fresh_level(view: View) -> HandReading | None:
    """The hydrometer reading that the level rests on, if it is fresh enough."""
    if (pair := limit.settled(view)) is not None:
        return pair.last
    levels = [r for r in view.since_restart() if r.level_known and r.hour > 24.0]
    if not levels:
        return None
    newest = view.readings[-1]
    limit_h = view.settings.fresh_reading_h if view.probed else HAND_ONLY_FRESH_H
    if little_left(view):
        limit_h = fresh_h(view)
    by_change = not newest.level_known and view.hour - levels[-1].hour <= LEVEL_FRESH_DAYS * 24.0
    fresh = levels[-1] if not by_change else newest
    return levels[-1] if view.hour - fresh.hour <= limit_h else None


def no_level(view: View) -> str:
    """That there is no reading to go by; or why one that somebody remembers counts for nothing."""
    hours = view.settings.fresh_reading_h if view.probed else HAND_ONLY_FRESH_H
    last = next((r for r in reversed(view.readings) if r.level_known), None)
    if last is None or view.hour - last.hour > hours:
        return f"no hydrometer reading in the last {hours:.0f} h"
    read, restart_h = f"hydrometer {shown_sg(last)} on {instant(view.facts.at(last.hour))}", view.facts.last_restart_h
    if restart_h is not None and last.hour < restart_h:
        return f"{read} was before what was added or moved since, and does not count any more"
    return f"{read} was in the first day, and shows nothing of how it ends"


def silence(view: View, hours: float) -> str:
    """Too little heard of the probe: held against how long it can have been heard."""
    first = next((b for b in view.bins if b.gravity is not None), None)
    there_h = 24.0 if first is None else view.hour - first.end_h + BIN_H
    if there_h < 24.0 and hours >= there_h - BIN_H:
        return f"the probe is heard for {hours:.0f} h so far, and {LEAST_HEARD_H:.0f} are asked for"
    return f"the probe is silent: heard in {hours:.0f} of the last {min(there_h, 24.0):.0f} h"


def heard_h(view: View) -> float:
    return BIN_H * sum(b.gravity is not None for b in view.bins[-BINS_PER_DAY:])
