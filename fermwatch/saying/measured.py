"""What was measured, by which probe or by whom, how old it is, and what of it may be shown as so."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fermwatch.brewing.attenuation import attenuated, expected, original_sg_at
from fermwatch.contracts.feed import Freshness, Lane, ProbeView
from fermwatch.model.amounts import gravity, pace, points
from fermwatch.model.batch import Batch, Event, EventKind, GravityMeasurement, Instrument
from fermwatch.model.event_data import STANDS_AT, STANDS_FOR
from fermwatch.model.finding import Phase
from fermwatch.model.judgement import Judgement, Trend
from fermwatch.model.quantity import Quantity
from fermwatch.saying import words
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice

PROBE_NOISE_SG = 0.0015
LEVEL_HOLDS = timedelta(days=5)
BY_PROBE = "probe"  # as a trend says by what its gravity was measured


@dataclass(frozen=True, slots=True)
class Shown:
    """A number to be shown: None with the reason in `remark`, or with a remark where it is not simply live."""

    value: float | None = None
    remark: str = ""
    faulty: bool = False  # the last good one of a probe whose newest reading is not to be believed
    old: bool = False  # it may not be so any more
    at: datetime | None = None  # of a gravity: when it was measured


@dataclass(frozen=True, slots=True)
class Ending:
    """Where gravity should end: `most` is what the forecast expects, if there is one."""

    low_sg: float
    high_sg: float
    most_sg: float | None
    by: str  # "forecast" or "yeast"
    rests_on: str = ""  # own earlier batches that count in it, in words


def newest(probes: tuple[ProbeView, ...], quantity: Quantity) -> ProbeView | None:
    """The probe to believe: a live one first, then the one heard last."""
    wanted = [view for view in probes if view.probe.quantity is quantity]
    order = tuple(Freshness)
    return min(
        wanted,
        key=lambda view: (view.value is None, order.index(view.freshness), view.age_s or 0.0),
        default=None,
    )


def shown(view: ProbeView | None, missing: str) -> Shown:
    if view is None:
        return Shown(remark=missing)
    if view.value is None:
        return Shown(remark=words.freshness(view), faulty=view.freshness is Freshness.FAULTY)
    healthy = view.freshness is Freshness.LIVE and not view.flagged
    remark = "" if healthy else words.freshness(view).removeprefix("live, ")
    return Shown(view.value, remark, view.freshness is Freshness.FAULTY, not healthy, view.at)


def beer_shown(lane: Lane, now: datetime, voice: Voice) -> Shown:
    """How warm the beer is: by its probe, where that was ever heard; else as somebody said lately that it stands."""
    view = newest(lane.probes, Quantity.BEER_TEMPERATURE)
    told = _told(lane, now) if view is None or view.value is None else None
    celsius = None if told is None else told.data.get("temperature_c")
    if told is None or not isinstance(celsius, int | float):
        return shown(view, "no beer probe")
    return Shown(float(celsius), f"as said {words.moment(told.at, now, voice)}", old=True)


def _told(lane: Lane, now: datetime) -> Event | None:
    """The last that was said of how warm it stands, as long as it holds."""
    said = [
        one
        for one in lane.events
        if one.kind is EventKind.OBSERVATION
        and one.data.get("what") == STANDS_AT
        and not one.voided
        and timedelta(0) <= now - one.at <= STANDS_FOR
    ]
    return max(said, key=lambda one: (one.at, one.id), default=None)


def gravity_shown(lane: Lane, now: datetime) -> Shown:
    """The last gravity that was measured: the probe's newest believable reading, or the last one by hand, with its age.

    What is reckoned from it is no measurement: it stands beside it, called an estimate (`gravity_remark`).
    """
    view = newest(lane.probes, Quantity.GRAVITY)
    hand = _last_by_hand(lane)
    trend = lane.judgement.trend if lane.judgement is not None else None
    if trend is None or trend.measured_sg is None or trend.measured_at is None:
        heard_at = view.at if view is not None else None
        if hand is not None and (heard_at is None or heard_at < hand.at):
            return _by_hand(hand, now)
        if heard_at is not None and lane.batch is not None and heard_at < lane.batch.pitched_at:
            return Shown(remark="not heard since the pitch")  # what it said before was another beer's
        return shown(view, "no gravity probe")
    if hand is not None and (trend.measured_by != BY_PROBE or hand.at > trend.measured_at):
        return replace(_by_hand(hand, now), old=trend.estimated and hand.at <= trend.measured_at)
    if trend.estimated or trend.measured_by != BY_PROBE:
        ago = words.ago((now - trend.measured_at).total_seconds())
        return Shown(trend.measured_sg, f"by {trend.measured_by} {ago}", old=trend.estimated, at=trend.measured_at)
    probe = shown(view, "no gravity probe")
    return probe if probe.value is not None else replace(probe, value=trend.measured_sg)


def _last_by_hand(lane: Lane) -> GravityMeasurement | None:
    """The newest; but a level that is known, of some days before, says more than one that is not: gas lifts a
    hydrometer, and of a refractometer in fermenting beer only the changes tell.
    """
    taken = [one for one in lane.measurements if not one.voided]
    newest = max(taken, key=lambda one: one.at, default=None)
    levels = [one for one in taken if one.level_known and newest is not None and newest.at - one.at <= LEVEL_HOLDS]
    return max(levels, key=lambda one: one.at, default=newest)


def _by_hand(hand: GravityMeasurement, now: datetime) -> Shown:
    gas = "" if hand.level_known or hand.instrument is Instrument.REFRACTOMETER else ", not degassed"
    return Shown(hand.gravity_sg, f"by {hand.instrument} {words.ago((now - hand.at).total_seconds())}{gas}", at=hand.at)


def ending(lane: Lane, beside: Shown) -> Ending | None:
    """Where it should end, cut at the gravity that is shown beside it: what a probe says meanwhile may be lower."""
    forecast = lane.judgement.forecast if lane.judgement else None
    if forecast is not None:
        by = "yeast" if forecast.basis == "yeast" else "forecast"  # of a stalled beer: what its yeast should still do
        most_sg = _no_lower_known(lane, beside, forecast.high_sg)
        low_sg, terminal_sg = min(forecast.low_sg, most_sg), min(forecast.terminal_sg, most_sg)
        return Ending(low_sg, min(forecast.high_sg, most_sg), terminal_sg, by, forecast.rests_on)
    if lane.batch is None:
        return None
    low, high = expected(lane.batch, lane.events).ends_sg
    return Ending(low, high, None, "yeast")


def _no_lower_known(lane: Lane, beside: Shown, high_sg: float) -> float:
    """Of a probe whose offset is known, and of one that is not to be believed, what it shows is not the beer."""
    trend = lane.judgement.trend if lane.judgement is not None else None
    doubted = beside.faulty or beside.old or trend is None or bool(trend.remark)
    return high_sg if doubted or beside.value is None else beside.value


def attenuation(lane: Lane, beside: Shown, now: datetime) -> float | None:
    """Apparent attenuation at the gravity that is shown beside it."""
    if lane.batch is None or beside.value is None or beside.faulty:
        return None
    trend = lane.judgement.trend if lane.judgement is not None else None
    return attenuation_at(beside.value, beside.at or now, trend, lane.batch, lane.events)


def attenuation_at(
    gravity_sg: float, at: datetime, trend: Trend | None, batch: Batch, events: Iterable[Event]
) -> float | None:
    """Apparent attenuation at a gravity, from the original with the sugars that were added until then.

    At one that a probe says and that is the judged one but for its noise, or for an offset that is known, it is the
    judged one, so that it is the same number wherever it is said.
    """
    if trend is not None and trend.measured_by == BY_PROBE and not trend.estimated:
        within_noise = abs(gravity_sg - trend.gravity_sg) <= PROBE_NOISE_SG
        if trend.remark or within_noise:
            return trend.apparent_attenuation
    return attenuated(original_sg_at(batch, events, at), gravity_sg)


def estimate_sg(lane: Lane, beside: Shown) -> float | None:
    """Of what gravity the attenuation is told, where it is not of the one that a probe shows: it is known to be off."""
    trend = lane.judgement.trend if lane.judgement is not None else None
    return trend.gravity_sg if trend is not None and by_a_probe_that_is_off(trend) and not beside.faulty else None


def by_a_probe_that_is_off(trend: Trend) -> bool:
    """Whether what was measured last is of a probe that is known to read beside the beer: then an estimate counts."""
    return bool(trend.remark) and not trend.estimated and trend.measured_by == BY_PROBE


def gravity_remark(lane: Lane, voice: Voice) -> str:
    trend = lane.judgement.trend if lane.judgement is not None else None
    if trend is None:
        return ""
    return voice.text(", ".join(part for part in (estimate_words(trend), trend.remark) if part))


def estimate_words(trend: Trend) -> str:
    """What is reckoned of the gravity, where that says more than what was measured last: of a measurement that is old,
    or of a probe whose offset is known."""
    return f"estimated to be about {gravity(trend.gravity_sg)} now" if trend.estimated or trend.remark else ""


def rate_words(lane: Lane, voice: Voice) -> str:
    """How fast gravity moves: as judged, else by the curve of the last day."""
    if lane.batch is None:
        return ""
    if lane.judgement is not None and lane.judgement.trend is not None:
        return voice.text(judged_rate(lane.judgement))
    change = day_change_points(lane)
    return voice.text(f"{_change(change)} in 24 h") if change is not None else ""


def judged_rate(judgement: Judgement) -> str:
    """How fast it falls, with how sure that is; nothing where nobody can know, or before it is known to have begun."""
    trend, phase = judgement.trend, judgement.phase
    if trend is None or trend.estimated or (phase is not None and phase.phase in {Phase.LAG, Phase.NOT_STARTED}):
        return ""
    said = pace(trend.rate_points_per_day, trend.rate_sd_points_per_day)
    # What is not shown to stand still is not called steady beside that.
    falls = phase is not None and phase.phase in {Phase.ACTIVE, Phase.SLOWING, Phase.RESTARTED}
    return said.replace("steady", "hardly falling any more", 1) if falls and said.startswith("steady") else said


def _change(by_points: float) -> str:
    if round(by_points) == 0:
        return "gravity unchanged"
    return f"gravity {'down' if by_points < 0 else 'up'} {points(abs(by_points), 0)}"


def day_change_points(lane: Lane) -> float | None:
    """Change of gravity over the curve, in points; None where it covers less than half a day."""
    curve = lane.gravity_curve
    if len(curve) < 2 or (curve[-1].at - curve[0].at).total_seconds() < 12 * words.HOUR_S:
        return None
    return (curve[-1].mean - curve[0].mean) * 1000.0


def probe_words(probes: tuple[ProbeView, ...]) -> tuple[str, Ink]:
    """Freshness of every probe: one word while all are live, otherwise each one that is not."""
    if not probes:
        return "by hand", Ink.FAINT
    odd = [view for view in probes if view.freshness is not Freshness.LIVE or view.flagged]
    if not odd:
        return (f"all {len(probes)} probes live" if len(probes) > 1 else "probe live"), Ink.FAINT
    if len(probes) > 1 and all(view.freshness is Freshness.CUT_OFF for view in probes):
        newest_heard = min(probes, key=lambda view: view.age_s if view.age_s is not None else math.inf)
        return f"all {len(probes)} probes {words.freshness(newest_heard)}", Ink.WARNING
    said = ", ".join(f"{words.QUANTITY_WORDS[view.probe.quantity]} {words.freshness(view)}" for view in odd)
    live = len(probes) - len(odd)
    return said + (f", {live} live" if live else ""), Ink.WARNING
