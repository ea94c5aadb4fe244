"""What was so at one instant of a ferment, by its curves; and what is forecast for one to come."""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta

from fermwatch.contracts.feed import Curves, Lane
from fermwatch.contracts.store import Bucket
from fermwatch.model.amounts import points
from fermwatch.saying import words
from fermwatch.saying.fan import Fan
from fermwatch.saying.set_to import LEAST_C, PlanLine
from fermwatch.saying.spells import band_then
from fermwatch.saying.voice import Voice

HEARD_WITHIN = timedelta(minutes=30)  # what a probe said so shortly before still holds
AROUND = timedelta(hours=12)  # either side of an instant, for how fast gravity moved there
LEAST_FOR_PACE = timedelta(hours=8)
SETTLED = 0.5  # points a day: too little to be told from nothing


def time_words(at: datetime, lane: Lane, voice: Voice) -> str:
    """Tue 3 Nov 14:10, day 3."""
    local = voice.local(at)
    said = f"{local:%a} {local.day} {local:%b %H:%M}"
    if lane.batch is None or at < lane.batch.pitched_at:
        return said
    same_day = local.date() == voice.local(lane.batch.pitched_at).date()
    return f"{said}, {'pitching day' if same_day else words.beer_day(lane.batch.pitched_at, at, voice)}"


def temperature_words(at: datetime, lane: Lane, curves: Curves, now: datetime, voice: Voice) -> str:
    """What the beer was, and where it should have been: beer 19.2 °C of 17-21 °C."""
    band = band_then(lane, at, now)
    should = "" if band is None else voice.temperature_range(band.low_c, band.high_c)
    if at > now:
        return f"should be at {should}" if should else ""
    bucket = nearest(curves.beer, at, curves.window.span)
    if bucket is None:
        return f"beer not heard then, should be at {should}" if should else "beer not heard then"
    said = f"beer {voice.temperature(bucket.mean)}"
    if bucket.high - bucket.low >= 0.5:
        dash = "-" if voice.ascii else "–"
        said += f" ({voice.bare_temperature(bucket.low)}{dash}{voice.bare_temperature(bucket.high)})"
    if band is None:
        return said
    side = band.side(bucket.mean)
    return f"{said}, {'within' if side is None else side} {should}"


def regulated_words(at: datetime, lane: Lane, curves: Curves, now: datetime, voice: Voice) -> str:
    """To what it was set, and how much was switched: set to 18.0 °C, cooled 40 % of the time. To come: by the plan."""
    planned_c = PlanLine(lane, now).at(at)
    if at > now:
        return "" if planned_c is None else f"by the plan {voice.temperature(planned_c)}"
    span = curves.window.span
    set_to, said = nearest(curves.set_point, at, span), []
    if set_to is not None:
        said.append(f"set to {voice.temperature(set_to.mean)}")
    if planned_c is not None and (set_to is None or abs(planned_c - set_to.mean) >= LEAST_C):
        said.append(f"by the plan {voice.temperature(planned_c)}")
    for name, output in (("cooled", curves.cool), ("heated", curves.heat)):
        on = nearest(output, at, span)
        if on is not None and on.mean > 0.0:
            said.append(name if on.mean > 0.99 else f"{name} {on.mean * 100:.0f} % of the time")
    return ", ".join(said)


def gravity_words(at: datetime, curves: Curves, fan: Fan | None, now: datetime, voice: Voice) -> str:
    """gravity 1.034, falling 7 points a day; to come: forecast 1.014, 1.012-1.018."""
    if at > now:
        if fan is None:
            return "no forecast"
        low, most, high = fan.at(at)
        return f"forecast {voice.gravity(most)}, between {voice.gravity_range(low, high)}"
    bucket = nearest(curves.gravity, at, curves.window.span)
    if bucket is None:
        return ""
    moves = pace_at(curves.gravity, at)
    return voice.text(f"gravity {voice.gravity(bucket.mean)}{_pace_words(moves)}")


def _pace_words(points_per_day: float | None) -> str:
    if points_per_day is None:
        return ""
    if abs(points_per_day) < SETTLED:
        return ", steady"
    return f", {'falling' if points_per_day < 0 else 'rising'} {points(abs(points_per_day), 0)} a day"


def nearest(curve: Sequence[Bucket], at: datetime, span: timedelta) -> Bucket | None:
    """The bucket that holds an instant, or the one shortly before; None in a gap."""
    after = bisect_right(curve, at + span, key=_at)
    found = curve[after - 1] if after else None
    return found if found is not None and at - found.at <= max(HEARD_WITHIN, 2 * span) else None


def pace_at(gravity: Sequence[Bucket], at: datetime) -> float | None:
    """Points a day over the hours around an instant, by least squares; None where too little is known of them."""
    near = gravity[bisect_left(gravity, at - AROUND, key=_at) : bisect_right(gravity, at + AROUND, key=_at)]
    if len(near) < 3 or near[-1].at - near[0].at < LEAST_FOR_PACE:
        return None
    days = [(one.at - at) / timedelta(days=1) for one in near]
    middle, mean = sum(days) / len(days), sum(one.mean for one in near) / len(near)
    across = sum((day - middle) ** 2 for day in days)
    along = sum((day - middle) * (one.mean - mean) for day, one in zip(days, near, strict=True))
    return along / across * 1000.0


def _at(bucket: Bucket) -> datetime:
    return bucket.at
