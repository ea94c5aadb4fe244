"""The verdict: may this beer go into this package?"""

from collections.abc import Container, Sequence
from dataclasses import dataclass, replace

from fermwatch.judgement import limit
from fermwatch.judgement.fresh import fresh_level
from fermwatch.judgement.gates import Checked, Gate, creep
from fermwatch.judgement.leftover import fallen_since, little_left
from fermwatch.judgement.packaging import left_now
from fermwatch.judgement.phase import PhaseMemory
from fermwatch.judgement.settings import BIN_H
from fermwatch.judgement.settling import would_settle
from fermwatch.judgement.stillness import decline_of
from fermwatch.judgement.view import View
from fermwatch.model.amounts import points
from fermwatch.model.finding import Phase, VerdictKind
from fermwatch.science.attenuation import causes_above_range
from fermwatch.science.pressure_risk import FermentableLeft

ANSWERABLE = {Gate.READING, Gate.PACKAGE}  # what a person settles at once; stillness too, where one reading shows it
CHANGED = "the beer was changed or moved"  # by the brewer, who knows it
FALL_AGAIN = 0.5  # points/day
RISING = 0.6  # points/day
RISING_H = 24.0
ABOVE_RANGE_MARGIN = 0.015


@dataclass(frozen=True, slots=True)
class VerdictMemory:
    """met_h: how long every gate has been met, and every gate but those that a person answers.

    left_when_safe: what could still ferment when it was declared safe, while that stands.
    """

    kind: VerdictKind = VerdictKind.NOT_YET
    since_h: float = 0.0
    met_h: float = 0.0
    all_but_answers_met_h: float = 0.0
    safe_since_h: float | None = None
    left_when_safe: FermentableLeft | None = None
    still_h: float = 0.0
    falling_bins: int = 0
    rising_h: float = 0.0
    holds: tuple[str, ...] = ()
    unlatched_by: str = ""


def step(memory: VerdictMemory, view: View, phase: PhaseMemory, gates: Sequence[Checked]) -> VerdictMemory:
    """The verdict after one more bin."""
    decline = decline_of(view.estimate)
    rising = 1.0 - decline.chance_of(-RISING) > 0.97
    unmet = {checked.gate for checked in gates if not checked.met}
    unreadable = {checked.gate for checked in gates if not checked.readable}
    unanswered = unmet - (ANSWERABLE - unreadable)
    if unanswered == {Gate.STILL} - unreadable and would_settle(view.estimate, view, view.hour):
        unanswered = set()
    memory = replace(
        memory,
        falling_bins=memory.falling_bins + 1 if decline.chance_of(FALL_AGAIN) > 0.5 else 0,
        rising_h=memory.rising_h + BIN_H if rising else 0.0,
        still_h=0.0 if Gate.STILL in unmet else memory.still_h + BIN_H,
        met_h=0.0 if unmet else memory.met_h + BIN_H,
        all_but_answers_met_h=0.0 if unanswered else memory.all_but_answers_met_h + BIN_H,
    )
    holds = _holds(memory, view, phase)
    latch_ends = _latch_ends(memory, view, unmet)
    if memory.safe_since_h is not None and latch_ends:
        memory = replace(
            memory,
            safe_since_h=None,
            left_when_safe=None,
            met_h=0.0,
            all_but_answers_met_h=0.0,
            unlatched_by=latch_ends,
        )
    kind = _kind(memory, view, holds)
    if kind is VerdictKind.SAFE and memory.safe_since_h is None:
        memory = replace(memory, safe_since_h=view.hour, left_when_safe=left_now(view), unlatched_by="")
    since = view.hour if kind is not memory.kind else memory.since_h
    return replace(memory, kind=kind, since_h=since, holds=holds)


def _kind(memory: VerdictMemory, view: View, holds: tuple[str, ...]) -> VerdictKind:
    if memory.safe_since_h is not None:
        return VerdictKind.SAFE
    if holds:
        return VerdictKind.HOLD
    at_once = limit.settled(view) is not None or little_left(view)
    if memory.met_h >= (BIN_H if at_once else max(view.settings.hold_h, BIN_H)):
        return VerdictKind.SAFE
    if memory.all_but_answers_met_h >= max(view.settings.hold_h, BIN_H):
        return VerdictKind.CONFIRM
    return VerdictKind.NOT_YET


def _holds(memory: VerdictMemory, view: View, phase: PhaseMemory) -> tuple[str, ...]:
    """What is wrong and must be found out first."""
    found = []
    if phase.phase is Phase.STALLED:
        found.append(f"stalled: {phase.reason}")
    if phase.phase is Phase.RESTARTED:
        found.append(phase.reason or "it falls again")
    if memory.rising_h >= RISING_H:
        found.append(f"gravity rises by {points(view.estimate.rate, 1)} a day, which beer does not do by itself")
    if view.went_beyond and view.above_range(0.9, ABOVE_RANGE_MARGIN) and not creep(view).met:
        found.append(
            f"apparent attenuation {view.attenuation_read:.0%} is above the yeast's {view.facts.attenuation_high:.0%}; "
            f"likeliest first: {'; '.join(causes(view))}"
        )
    if view.probe_contradicts and view.hour > 24.0:
        found.append(f"hydrometer and probe are {points(abs(view.probe_apart), 1)} apart")
    return tuple(found)


def causes(view: View) -> tuple[str, ...]:
    """Why its attenuation may be above the yeast's range, likeliest first."""
    facts = view.facts
    return causes_above_range(
        probe_unchecked=view.probed and fresh_level(view) is None,
        original_doubtful=not facts.original_measured,
        sugars_declared=facts.sugars_declared,
        diastatic=facts.diastatic,
    )


def _latch_ends(memory: VerdictMemory, view: View, unmet: Container[Gate]) -> str:
    """Why a standing `safe` ends; empty while it stands. What the package cannot hold is never safe, at no time."""
    since = memory.safe_since_h
    if since is None:
        return ""
    if memory.falling_bins >= 2 or fallen_since(since, view):
        return "gravity falls again"
    if changed_since_safe(memory, view):
        return CHANGED
    if Gate.PACKAGE in unmet:
        return "the package would be overfilled"
    if unread_days(since, view) > view.settings.latch_days:
        return f"no fresh reading for {view.settings.latch_days:.0f} days"
    return ""


def changed_since_safe(memory: VerdictMemory, view: View) -> bool:
    """Whether the beer is another than was found safe."""
    changed_h, since_h = view.facts.last_restart_h, memory.safe_since_h
    return changed_h is not None and since_h is not None and changed_h > since_h


def unread_days(since_h: float, view: View) -> float:
    """Days without a fresh reading by hand, of those that it has been safe."""
    fresh = max((r.hour for r in view.readings), default=since_h)
    return (view.hour - max(fresh, since_h)) / 24.0
