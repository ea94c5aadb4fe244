"""Which phase the beer is in, one bin after the other.

The thresholds are common practice, measured on simulated batches. A phase is left only on evidence.
"""

import math
from dataclasses import dataclass, replace
from statistics import fmean

from fermwatch.errors import OutOfDomain
from fermwatch.judgement.kalman import SHARE, density_effect
from fermwatch.judgement.leftover import little_left
from fermwatch.judgement.settings import BIN_H, BINS_PER_DAY
from fermwatch.judgement.stall import StallCheck
from fermwatch.judgement.stillness import decline_by_hand, decline_of
from fermwatch.judgement.view import View
from fermwatch.model.amounts import temperature, warmth
from fermwatch.model.finding import CONDITIONING_AFTER_H, Phase
from fermwatch.science.alcohol import abv_from_gravity

SLOW_START_GRACE_H = 12.0
STARTED_FALL = 2.0
NOT_STARTED_FALL = 3.0
LIFE_HOLDS_H = 24.0
SLOWING_SHARE = 0.35  # of the steepest decline
SLOWING_DECLINE = 3.0  # points/day
STALL_BINS = 2
MOVES, MOVING_BINS = 0.5, 4  # points/day, and for so long, before what was finished is not: a probe has its days
RESTART_BINS = 4
RESTART_DECLINE = 1.0
RESTART_FALL = 2.0
TOO_COLD_C = 2.0
STEADY_FRESH_H = 72.0
FLAT_DAYS, FLAT_FALL, FLAT_WARM_H = 7, 0.5, 72.0  # over so many days, points from the first to the last, of them warm
NEAR_TOLERANCE = 0.9


@dataclass(frozen=True, slots=True)
class PhaseMemory:
    """stall_bins: looks in a row that saw a stall; moving_bins: that saw it fall a little, falling_bins: much.

    entered_at: gravity where the phase began, points.
    """

    phase: Phase = Phase.LAG
    since_h: float = 0.0
    reason: str = ""
    steepest: float = 0.0
    stall_bins: int = 0
    moving_bins: int = 0
    falling_bins: int = 0
    ever_stalled: bool = False
    entered_at: float = math.inf
    stall: StallCheck | None = None


def settled_h(memory: PhaseMemory) -> float | None:
    """The hour from which it has been finished; None while it is not, or where that is not known."""
    if memory.phase is Phase.TERMINAL:
        return memory.since_h
    return memory.since_h - CONDITIONING_AFTER_H if memory.phase is Phase.CONDITIONING else None


def step(memory: PhaseMemory, view: View, stall: StallCheck) -> PhaseMemory:
    """The phase after one more bin. One of which nothing was heard changes nothing."""
    if view.facts.packaged_h is None and not view.speaks_of_now and not little_left(view):
        memory = replace(memory, stall_bins=0, moving_bins=0, falling_bins=0)
        answered = memory.phase is Phase.NOT_STARTED and life_noted(view)
        return replace(memory, phase=Phase.LAG, since_h=view.hour, reason="") if answered else memory
    decline = decline_of(view.estimate)
    falling = decline.chance_of(RESTART_DECLINE) > 0.9
    memory = replace(
        memory,
        steepest=max(memory.steepest, -view.estimate.rate) if view.fallen > STARTED_FALL else memory.steepest,
        stall_bins=memory.stall_bins + 1 if stall.stalled else 0,
        moving_bins=memory.moving_bins + 1 if decline.chance_of(MOVES) > 0.5 else 0,
        falling_bins=memory.falling_bins + 1 if falling else 0,
        stall=stall,
    )
    phase, reason = _next(memory, view, stall)
    if phase is Phase.STALLED:
        memory = replace(memory, ever_stalled=True)
    elif memory.phase is Phase.STALLED and phase is not Phase.RESTARTED:
        memory = replace(memory, ever_stalled=False)  # a reading showed that the level had been misjudged
    entered_at = view.gravity if phase is not memory.phase else memory.entered_at
    since = view.hour if phase is not memory.phase else memory.since_h
    return replace(memory, phase=phase, since_h=since, reason=reason, entered_at=entered_at)


def _next(memory: PhaseMemory, view: View, stall: StallCheck) -> tuple[Phase, str]:
    if view.facts.packaged_h is not None:
        return Phase.PACKAGED, ""
    if memory.phase in {Phase.LAG, Phase.NOT_STARTED}:
        return _before_start(view)
    if memory.phase is Phase.STALLED:
        return _while_stalled(memory, view, stall)
    if memory.stall_bins >= STALL_BINS or stall.by_hand:
        return Phase.STALLED, stall_reason(view)
    return _fermenting(memory, view)


def _before_start(view: View) -> tuple[Phase, str]:
    spread = max(view.gravity_sd, 1e-9) * math.sqrt(2.0)
    started = 0.5 * math.erfc((STARTED_FALL - view.fallen) / spread)
    if started > 0.95:
        return Phase.ACTIVE, ""
    unmoved = 0.5 * math.erfc((view.fallen - NOT_STARTED_FALL) / spread)
    if view.hour >= view.facts.lag_max_h + SLOW_START_GRACE_H and unmoved > 0.95 and not life_noted(view):
        return Phase.NOT_STARTED, f"no fall {view.hour:.0f} h after the pitch"
    return Phase.LAG, ""


def life_noted(view: View) -> bool:
    """Whether somebody saw it ferment since the last reading by hand; against a probe that goes on, for a day."""
    seen_h = view.facts.signs_of_life_h
    read_h = max((reading.hour for reading in view.readings), default=0.0)
    return seen_h is not None and seen_h > read_h and not (view.probed and view.hour - seen_h > LIFE_HOLDS_H)


def _while_stalled(memory: PhaseMemory, view: View, stall: StallCheck) -> tuple[Phase, str]:
    """A stall ends by a fall, or by a level found to be where it should end."""
    falls = memory.falling_bins >= RESTART_BINS and not stall.stalled
    fell = memory.falling_bins > 0 and view.gravity < memory.entered_at - RESTART_FALL - 2.0 * view.gravity_sd
    if falls or fell:
        return Phase.RESTARTED, "it falls again after a stall"
    if stall.chance_above < 0.5:
        return _settled(memory, view)
    return Phase.STALLED, stall_reason(view)


def _fermenting(memory: PhaseMemory, view: View) -> tuple[Phase, str]:
    decline = decline_of(view.estimate)
    finished = memory.phase in {Phase.TERMINAL, Phase.CONDITIONING}
    if finished:
        if memory.falling_bins >= RESTART_BINS:
            return Phase.RESTARTED, "it falls again after it was steady"
        return (
            (Phase.SLOWING, "") if memory.moving_bins >= MOVING_BINS and not _stands(view) else _settled(memory, view)
        )
    still = (
        decline.chance_of(view.still_limit) < 0.1 or _stands(view)
    ) and view.attenuation >= view.facts.attenuation_low
    if memory.phase is Phase.RESTARTED and not still:
        return Phase.RESTARTED, memory.reason
    if still:
        return _settled(memory, view)
    slow = -view.estimate.rate < max(SLOWING_SHARE * memory.steepest, 1.0) and memory.steepest > SLOWING_DECLINE
    if slow or (memory.phase is Phase.SLOWING and -view.estimate.rate < 0.6 * memory.steepest):
        return Phase.SLOWING, ""
    return Phase.ACTIVE, ""


def _stands(view: View) -> bool:
    """Whether it stands, whatever a probe's slope says of these hours."""
    return little_left(view) or _flat_for_long(view) or _steady_by_hand(view)


def _steady_by_hand(view: View) -> bool:
    """Whether hydrometer readings days apart say that it stands, the last of them fresh: a probe that wanders may say
    what it likes, short of a fall that no probe makes up."""
    levels = [one for one in view.since_restart() if one.level_known]
    if not levels or view.hour - levels[-1].hour > STEADY_FRESH_H:
        return False
    line = decline_by_hand(levels, MOVES)
    return line is not None and line.chance_of(MOVES) < 0.1


def _flat_for_long(view: View) -> bool:
    """Whether a probe said the same for a week, three days of it warm: its drift may hide a creep, and no fermentation.

    What is shown of a creep is the verdict's to say.
    """
    days, changed_h = view.bins[-FLAT_DAYS * BINS_PER_DAY :], view.facts.last_restart_h
    if len(days) < FLAT_DAYS * BINS_PER_DAY or view.hour - (changed_h or 0.0) < FLAT_DAYS * 24.0:
        return False
    parts = days[:BINS_PER_DAY], days[BINS_PER_DAY:-BINS_PER_DAY], days[-BINS_PER_DAY:]
    share = float(view.estimate.mean[SHARE])
    heard = [
        [b.gravity - share * density_effect(b.temperature_c) for b in part if b.gravity is not None] for part in parts
    ]
    if any(2 * len(values) < len(part) for values, part in zip(heard, parts, strict=True)):
        return False
    warm = sum(b.temperature_c >= view.facts.temperature_low_c - TOO_COLD_C for b in days)
    return warm * BIN_H >= FLAT_WARM_H and fmean(heard[0]) - fmean(heard[-1]) < FLAT_FALL


def _settled(memory: PhaseMemory, view: View) -> tuple[Phase, str]:
    matured = memory.phase is Phase.TERMINAL and view.hour - memory.since_h >= CONDITIONING_AFTER_H
    if memory.phase is Phase.CONDITIONING or matured:
        return Phase.CONDITIONING, ""
    return Phase.TERMINAL, ""


def stall_reason(view: View) -> str:
    """The likeliest reason: cold, alcohol, early flocculation, or a wort that has no more to give."""
    recent = view.known_temperatures(24.0)
    coldest = min(recent, default=view.facts.temperature_low_c)
    if coldest < view.facts.temperature_low_c - TOO_COLD_C:
        below = view.facts.temperature_low_c - coldest
        return (
            f"too cold: it was down to {temperature(coldest)} in the last day, {warmth(below)} below the yeast's range"
        )
    alcohol = alcohol_abv(view)
    if alcohol > NEAR_TOLERANCE * view.facts.alcohol_tolerance_abv:
        return (
            f"near the yeast's alcohol tolerance: {alcohol:.1f} of {view.facts.alcohol_tolerance_abv:.0f} % by volume"
        )
    if view.facts.attenuation_low - view.attenuation < 0.06:
        return "the yeast flocculated early, or a less fermentable wort: a forced ferment test tells"
    if not recent:
        return "too cold, or the yeast flocculated early: nobody said how warm it stands"
    return "the yeast flocculated early or gave up"


def alcohol_abv(view: View) -> float:
    """% by volume, or 0 where the gravities are outside the formula's range."""
    try:
        return float(
            abv_from_gravity(1.0 + view.facts.original / 1000.0, 1.0 + min(view.gravity, view.facts.original) / 1000.0)
        )
    except OutOfDomain:
        return 0.0
