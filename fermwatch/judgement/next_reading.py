"""The fewest readings that settle it: when the next one with the hydrometer would."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from fermwatch.judgement import kalman
from fermwatch.judgement.bottling import VerdictMemory
from fermwatch.judgement.facts import gravity_sg
from fermwatch.judgement.forecast import Outlook
from fermwatch.judgement.gates import Checked, Gate
from fermwatch.judgement.kalman import RATE, Estimate
from fermwatch.judgement.phase import PhaseMemory
from fermwatch.judgement.settings import BIN_H
from fermwatch.judgement.settling import would_settle
from fermwatch.judgement.view import View
from fermwatch.model.amounts import gravity
from fermwatch.model.finding import Phase, VerdictKind

LONGEST_H = 14 * 24.0
AGAIN_H = 24.0
# What one reading, if it agrees, meets or leaves to the clock alone.
READING_MEETS = {Gate.READING, Gate.STILL, Gate.ATTENUATION, Gate.WARM, Gate.AGREEING}
WITHIN_REACH = 0.05  # of apparent attenuation, before the least that the yeast reaches


@dataclass(frozen=True, slots=True)
class Asked:
    hour: float
    why: str


def next_reading(
    view: View, said: VerdictMemory, phase: PhaseMemory, gates: Sequence[Checked], outlook: Outlook | None
) -> Asked | None:
    """When to read the hydrometer next; None where no reading would settle anything."""
    unmet = {checked.gate for checked in gates if not checked.met}
    if said.kind is VerdictKind.SAFE or Gate.YEAST in unmet or view.facts.packaged_h is not None:
        return None
    if said.kind is VerdictKind.HOLD:
        return Asked(_due(said, view), "A hydrometer reading now tells whether the beer or the probe is at fault.")
    if unmet <= {Gate.PACKAGE} or any(not checked.readable for checked in gates):
        return None  # only time, or another package, or the probe is asked for
    if _too_early(view, phase.phase, outlook):
        return None
    if said.kind is VerdictKind.CONFIRM and unmet & {Gate.READING, Gate.STILL}:
        return Asked(_due(said, view), f"One that reads near {_sg(view.gravity)} may settle it{_but_for(unmet, view)}.")
    earliest = _earliest(view, outlook)
    hour = _settles_at(view, earliest)
    if hour is None:
        return _first(view, outlook)
    expected = _sg(min(view.gravity, _end(view, outlook)))
    return Asked(hour, f"One that reads near {expected} then may settle it{_but_for(unmet, view)}.")


def _due(said: VerdictMemory, view: View) -> float:
    """Due since it was first asked for, so that nobody is asked anew at every look; the next, a day after the last."""
    last_h = max((reading.hour for reading in view.readings if reading.level_known), default=0.0)
    return said.since_h if last_h < said.since_h else last_h + AGAIN_H


def _sg(points: float) -> str:
    return gravity(gravity_sg(points))


def _but_for(unmet: Collection[Gate], view: View) -> str:
    """What a reading cannot settle, so that nobody believes it does."""
    besides = sorted(str(gate) for gate in unmet if gate not in READING_MEETS)
    if Gate.WARM in unmet and not view.known_temperatures(view.settings.warm_h):
        besides.append("how warm it stands")
    return f", but for what is asked besides: {', '.join(besides)}" if besides else ""


def _first(view: View, outlook: Outlook | None) -> Asked | None:
    """Without a probe somebody must look, at the latest when it should be done, though one reading settles nothing."""
    if view.probed or outlook is None:
        return None
    last_h = view.readings[-1].hour if view.readings else 0.0
    return Asked(max(outlook.done, last_h + AGAIN_H), "It tells how far the beer has come.")


def _too_early(view: View, phase: Phase, outlook: Outlook | None) -> bool:
    """While the end is out of reach. Without a probe the forecast alone says when that is over."""
    if phase is Phase.NOT_STARTED:
        return True
    if phase not in {Phase.LAG, Phase.ACTIVE}:
        return False
    far = view.attenuation < view.facts.attenuation_low - WITHIN_REACH
    return far and (view.probed or outlook is None)


def _end(view: View, outlook: Outlook | None) -> float:
    return outlook.terminal if outlook is not None else view.gravity


def _earliest(view: View, outlook: Outlook | None) -> float:
    """Before the beer is expected to be done, or has stood warm long enough, a reading settles nothing."""
    earliest = view.hour
    if outlook is not None and outlook.done > view.hour:
        earliest = outlook.done
    if view.facts.last_restart_h is not None:
        earliest = max(earliest, view.facts.last_restart_h + view.settings.warm_h)
    return min(earliest, view.hour + LONGEST_H)


def _settles_at(view: View, earliest: float) -> float | None:
    """The first time at which one reading, if it agrees, would leave too little chance of a decline."""
    if earliest <= view.hour and would_settle(view.estimate, view, view.hour):
        return view.hour
    estimate = _as_if_still(view.estimate)
    hour, end = view.hour, view.hour + LONGEST_H
    while hour < end:
        hour += BIN_H
        estimate = kalman.predict(estimate)
        if view.probed:
            estimate = _with_probe(estimate, view)
        if hour >= earliest and would_settle(estimate, view, hour):
            return hour
    return None


def _as_if_still(estimate: Estimate) -> Estimate:
    still = estimate.mean.copy()
    still[RATE] = 0.0
    return Estimate(still, estimate.covariance, 0.0)


def _with_probe(estimate: Estimate, view: View) -> Estimate:
    """The probe goes on as it did, and says what is expected of it."""
    observed = kalman.probe_row(view.temperature_c)
    noise = next(b.median_variance for b in reversed(view.bins) if b.gravity is not None)
    return kalman.update(estimate, observed, 0.0, float(observed @ estimate.covariance @ observed), noise)
