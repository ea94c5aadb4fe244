"""The fewest readings that settle it: when the next one with the hydrometer would."""

from collections.abc import Sequence
from dataclasses import dataclass

from fermwatch.judgement import kalman
from fermwatch.judgement.bottling import VerdictMemory
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
        return Asked(view.hour, "A hydrometer reading now tells whether the beer or the probe is at fault.")
    if unmet <= {Gate.PACKAGE} or any(not checked.readable for checked in gates):
        return None  # only time, or another package, or the probe is asked for
    if _too_early(view, phase.phase, outlook):
        return None
    if said.kind is VerdictKind.CONFIRM and unmet & {Gate.READING, Gate.STILL}:
        return Asked(
            view.hour, f"One hydrometer reading near {gravity(1.0 + view.gravity / 1000.0)} would settle it now."
        )
    earliest = _earliest(view, outlook)
    hour = _settles_at(view, earliest)
    if hour is None:
        return None
    expected = 1.0 + min(view.gravity, _end(view, outlook)) / 1000.0
    return Asked(hour, f"If it reads near {gravity(expected)} then, one reading would settle it.")


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
