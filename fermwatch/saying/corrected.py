"""A gravity probe that is known to read beside the beer: its curve as the beer was, so that it meets its forecast."""

from dataclasses import replace

from fermwatch.contracts.feed import Curves
from fermwatch.contracts.store import Bucket
from fermwatch.model.amounts import points
from fermwatch.model.judgement import Trend
from fermwatch.saying.measured import BY_PROBE
from fermwatch.saying.voice import Voice

AGREES = 3.0  # points: an offset that leaves more of what is apart is not all of it


def known_offset(trend: Trend | None) -> float | None:
    """Points above the beer, where it is worth saying that the probe is off, and by how much is known."""
    if trend is None or not trend.remark or trend.probe_offset_points is None:
        return None
    if trend.measured_by == BY_PROBE and not trend.estimated and trend.measured_sg is not None:
        apart = (trend.measured_sg - trend.gravity_sg) * 1000.0
        if abs(apart - trend.probe_offset_points) > AGREES:
            return None
    return trend.probe_offset_points


def corrected(curves: Curves, offset_points: float | None) -> Curves:
    if not offset_points:
        return curves
    by = offset_points / 1000.0
    moved = (Bucket(one.at, one.count, one.low - by, one.high - by, one.mean - by) for one in curves.gravity)
    return replace(curves, gravity=tuple(moved))


def corrected_words(offset_points: float | None, voice: Voice) -> str:
    """That the chart is not what the probe said."""
    if not offset_points:
        return ""
    way = "lower" if offset_points > 0.0 else "higher"
    return voice.text(f"the chart shows it {points(abs(offset_points), 0)} {way} than the probe says")
