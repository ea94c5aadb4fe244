"""The forecast as a way through time: where gravity most likely goes from now, and between what. Only a picture of the
forecast's own numbers: between now and its end it is drawn as a decline that slows, as fermentation does.
"""

import math
from dataclasses import dataclass
from datetime import datetime

from fermwatch.model.finding import Phase
from fermwatch.model.judgement import Judgement

NEAR_SG = 0.001  # a forecast's `done_at`: within a point of its end
OVER = {Phase.STALLED, Phase.PACKAGED}


@dataclass(frozen=True, slots=True)
class Descent:
    """From a gravity down to `end_sg`, which it is as good as at by `done_at`; there from the start without one.

    What is left of it then is within what the forecast calls done, and is not drawn: one instant has one number.
    """

    end_sg: float
    done_at: datetime | None

    def at(self, at: datetime, from_at: datetime, from_sg: float) -> float:
        left = from_sg - self.end_sg
        if left <= NEAR_SG or self.done_at is None or at >= self.done_at or self.done_at <= from_at:
            return self.end_sg
        share = max((at - from_at) / (self.done_at - from_at), 0.0)
        remains = left * math.exp(-math.log(left / NEAR_SG) * share)
        return self.end_sg + (remains - NEAR_SG) / (1.0 - NEAR_SG / left)

    def reaches(self, gravity_sg: float, from_at: datetime, from_sg: float) -> datetime | None:
        """When it comes down to a gravity; None where it never does, or nothing tells when."""
        left, to_go = from_sg - self.end_sg, gravity_sg - self.end_sg
        if to_go >= left:
            return from_at
        if self.done_at is None or left <= NEAR_SG or to_go <= 0.0:
            return None
        remains = to_go * (1.0 - NEAR_SG / left) + NEAR_SG
        return from_at + (self.done_at - from_at) * (math.log(left / remains) / math.log(left / NEAR_SG))


@dataclass(frozen=True, slots=True)
class Fan:
    """`low` and `high` bound what the forecast is 90 % sure of."""

    start: datetime
    from_sg: float
    low: Descent
    most: Descent
    high: Descent

    def at(self, at: datetime) -> tuple[float, float, float]:
        """Lowest, most likely and highest gravity at an instant after the start."""
        low, most, high = (way.at(at, self.start, self.from_sg) for way in (self.low, self.most, self.high))
        return min(low, most), most, max(high, most)

    @property
    def end(self) -> datetime:
        """By when it is as good as over, also where it takes longest."""
        ends = [way.done_at for way in (self.most, self.high) if way.done_at is not None]
        return max([self.start, *ends])


def fan_of(judgement: Judgement | None) -> Fan | None:
    """None where nobody can say: no forecast, no time for it, or a beer that stands still above its end."""
    if judgement is None or judgement.forecast is None or judgement.trend is None:
        return None
    forecast = judgement.forecast
    if forecast.done_at is None or (judgement.phase is not None and judgement.phase.phase in OVER):
        return None
    return Fan(
        judgement.at,
        judgement.trend.gravity_sg,
        Descent(forecast.low_sg, forecast.done_low or forecast.done_at),
        Descent(forecast.terminal_sg, forecast.done_at),
        Descent(forecast.high_sg, forecast.done_high or forecast.done_at),
    )
