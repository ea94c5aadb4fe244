"""Would one hydrometer reading settle it, if it agrees with what is expected?"""

from fermwatch.judgement import kalman
from fermwatch.judgement.kalman import Estimate
from fermwatch.judgement.stillness import Decline, HandReading, decline_by_hand, decline_of
from fermwatch.judgement.view import View

READING_SD = 0.7


def would_settle(estimate: Estimate, view: View, hour: float) -> bool:
    """Whether it would leave too little chance of a decline. estimate: as it will be at `hour`."""
    return settled_decline(estimate, view, hour) is not None


def settled_decline(estimate: Estimate, view: View, hour: float) -> Decline | None:
    """The decline that it would leave; None where that would not be known to be still."""
    limit, risk = view.still_limit, view.settings.still_risk
    read = decline_of(kalman.observe_hydrometer(estimate, estimate.gravity, READING_SD, 0.0))
    if read.chance_of(limit) <= risk:
        return read
    if view.probed:
        return None
    imagined = HandReading("", hour, estimate.gravity, READING_SD, True)
    line = decline_by_hand([*view.since_restart(), imagined], limit)
    return line if line is not None and line.chance_of(limit) <= risk else None
