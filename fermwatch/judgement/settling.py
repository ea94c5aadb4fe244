"""Would one hydrometer reading settle it, if it agrees with what is expected?"""

from fermwatch.judgement import kalman
from fermwatch.judgement.kalman import Estimate
from fermwatch.judgement.stillness import HandReading, decline_by_hand, decline_of
from fermwatch.judgement.view import View

READING_SD = 0.7


def would_settle(estimate: Estimate, view: View, hour: float) -> bool:
    """Whether it would leave too little chance of a decline. estimate: as it will be at `hour`."""
    read = kalman.observe_hydrometer(estimate, estimate.gravity, READING_SD, 0.0)
    limit, risk = view.still_limit, view.settings.still_risk
    if decline_of(read).chance_of(limit) <= risk:
        return True
    if view.probed:
        return False
    imagined = HandReading("", hour, estimate.gravity, READING_SD, True)
    line = decline_by_hand([*view.since_restart(), imagined], limit)
    return line is not None and line.chance_of(limit) <= risk
