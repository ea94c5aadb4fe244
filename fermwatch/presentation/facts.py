"""What there is to say of one fermenter, in words and bare numbers: nothing here knows where it will stand."""

import math
from dataclasses import dataclass, replace
from datetime import datetime

from fermwatch.contracts.feed import Freshness, Lane, ProbeView
from fermwatch.model.amounts import points
from fermwatch.model.finding import Alarm, Phase, Severity, VerdictKind
from fermwatch.model.intent import Band, band_of, outside
from fermwatch.model.judgement import Forecast, Judgement
from fermwatch.model.quantity import Quantity
from fermwatch.presentation import intended, quiet, words
from fermwatch.presentation.ink import Ink
from fermwatch.presentation.voice import Voice

_SEVERITY_INK = {Severity.CRITICAL: Ink.CRITICAL, Severity.WARNING: Ink.WARNING, Severity.ADVICE: Ink.ADVICE}
_SEVERITY_ORDER = (Severity.CRITICAL, Severity.WARNING, Severity.ADVICE)


@dataclass(frozen=True, slots=True)
class Shown:
    """A number to be shown: None with the reason in `remark`, or with a remark where it is not simply live."""

    value: float | None = None
    remark: str = ""
    faulty: bool = False  # the last good one of a probe whose newest reading is not to be believed


@dataclass(frozen=True, slots=True)
class AlarmFacts:
    """One alarm. `ink` is a colour only while somebody is needed."""

    alarm: Alarm
    mark: str
    ink: Ink
    statement: str
    remedy: str
    brief: str  # for where there is room for two words only
    state: str  # "since today 16:40", "over since ..., not seen yet"
    began: str  # "16:40", "Mon 15:14"


@dataclass(frozen=True, slots=True)
class Ending:
    """Where gravity should end: `most` is what the forecast expects, if there is one."""

    low_sg: float
    high_sg: float
    most_sg: float | None
    by: str  # "forecast" or "yeast"


@dataclass(frozen=True, slots=True)
class LaneFacts:
    name: str
    batch: str
    day: str
    beer: Shown
    set_point_c: float | None
    range_c: tuple[float, float] | None  # where the beer should be: the yeast's range, or what was declared
    range_name: str
    planned: str  # "planned rest at 17.0 °C until Sun 18:00"; empty where nothing is
    original_sg: float | None
    gravity: Shown
    ending: Ending | None
    attenuation: float | None
    phase: str
    phase_reason: str
    rate: str
    done: str
    done_spread: str
    verdict: str
    verdict_reason: str
    verdict_ink: Ink
    alarms: tuple[AlarmFacts, ...]
    quiet: tuple[AlarmFacts, ...]  # alarms that stand and are quiet on purpose
    kept_quiet: str  # those of them that somebody has shelved or taken out of service
    probes: str
    probes_ink: Ink

    @property
    def ink(self) -> Ink:
        """The colour of the whole lane: its gravest unseen alarm's."""
        return self.alarms[0].ink if self.alarms and self.alarms[0].alarm.needs_attention else Ink.PLAIN


def lane_facts(lane: Lane, now: datetime, voice: Voice) -> LaneFacts:
    batch = lane.batch
    alarms = tuple(alarm_facts(alarm, now, voice) for alarm in worth_showing(lane.alarms))
    probes, probes_ink = probe_words(lane.probes)
    beer = shown(newest(lane.probes, Quantity.BEER_TEMPERATURE), "no beer probe")
    gravity = gravity_shown(lane, now)
    meant = band(lane, now)
    return LaneFacts(
        name=voice.text(lane.vessel.name or lane.vessel.slug),
        batch=voice.text(batch.name) if batch else "empty",
        day=words.beer_day(batch.pitched_at, now, voice) if batch else "",
        beer=replace(beer, remark=voice.text(beer.remark)),
        set_point_c=shown(newest(lane.probes, Quantity.SET_POINT), "").value,
        range_c=(meant.low_c, meant.high_c) if meant else None,
        range_name=meant.name if meant else "",
        planned=intended.course_words(lane.course, now, voice) if batch else "",
        original_sg=batch.original_sg if batch else None,
        gravity=replace(gravity, remark=voice.text(gravity.remark)),
        ending=ending(lane),
        attenuation=attenuation(lane, None if gravity.faulty else gravity.value),
        phase=phase_words(lane.judgement, now, voice),
        phase_reason=phase_reason(lane.judgement, voice),
        rate=rate_words(lane, voice),
        done=done_words(lane.judgement, now),
        done_spread=done_spread(lane.judgement, now),
        verdict=verdict_words(lane),
        verdict_reason=verdict_reason(lane, voice),
        verdict_ink=verdict_ink(lane.judgement),
        alarms=alarms,
        quiet=quiet_alarms(lane.alarms, now, voice),
        kept_quiet=_kept_quiet(lane.alarms, now, voice),
        probes=voice.text(probes),
        probes_ink=probes_ink,
    )


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
    return Shown(view.value, remark, faulty=view.freshness is Freshness.FAULTY)


def gravity_shown(lane: Lane, now: datetime) -> Shown:
    """The judged gravity, else the probe's or the hand's, whichever is newer."""
    if lane.judgement is not None and lane.judgement.trend is not None:
        return Shown(lane.judgement.trend.gravity_sg, shown(newest(lane.probes, Quantity.GRAVITY), "by hand").remark)
    view = newest(lane.probes, Quantity.GRAVITY)
    hand = max((m for m in lane.measurements if not m.voided), key=lambda m: m.at, default=None)
    if hand is not None and (view is None or view.at is None or view.at < hand.at):
        return Shown(hand.gravity_sg, f"by hand {words.ago((now - hand.at).total_seconds())}")
    if view is not None and view.at is not None and lane.batch is not None and view.at < lane.batch.pitched_at:
        return Shown(remark="not heard since the pitch")  # what it said before was another beer's
    return shown(view, "no gravity probe")


def ending(lane: Lane) -> Ending | None:
    forecast = lane.judgement.forecast if lane.judgement else None
    if forecast is not None:
        return Ending(forecast.low_sg, forecast.high_sg, forecast.terminal_sg, "forecast")
    if lane.batch is None:
        return None
    low, high = lane.batch.expected_terminal_sg
    return Ending(low, high, None, "yeast")


def attenuation(lane: Lane, gravity_sg: float | None) -> float | None:
    """Apparent attenuation, as judged or by the drop of gravity in points."""
    if lane.judgement is not None and lane.judgement.trend is not None:
        return lane.judgement.trend.apparent_attenuation
    if lane.batch is None or gravity_sg is None or lane.batch.original_sg <= 1.0:
        return None
    return (lane.batch.original_sg - gravity_sg) / (lane.batch.original_sg - 1.0)


def phase_words(judgement: Judgement | None, now: datetime, voice: Voice) -> str:
    if judgement is None or judgement.phase is None:
        return ""
    phase = judgement.phase
    word = words.PHASE_WORDS[phase.phase]
    if phase.phase in {Phase.STALLED, Phase.RESTARTED, Phase.TERMINAL}:
        word += f" since {words.moment(phase.since, now, voice)}"
    return word


def phase_reason(judgement: Judgement | None, voice: Voice) -> str:
    return voice.text(judgement.phase.reason) if judgement is not None and judgement.phase is not None else ""


def rate_words(lane: Lane, voice: Voice) -> str:
    """How fast gravity moves: as judged, else by the curve of the last day."""
    if lane.batch is None:
        return ""
    if lane.judgement is not None and lane.judgement.trend is not None:
        return voice.text(words.rate(lane.judgement.trend.rate_points_per_day))
    change = day_change_points(lane)
    return voice.text(f"{_change(change)} in 24 h") if change is not None else ""


def _open_forecast(judgement: Judgement | None) -> Forecast | None:
    """The forecast, as long as the beer is on its way to its end."""
    if judgement is None or judgement.forecast is None or judgement.forecast.done_at is None:
        return None
    over = {Phase.STALLED, Phase.TERMINAL, Phase.CONDITIONING, Phase.PACKAGED}
    return None if judgement.phase is not None and judgement.phase.phase in over else judgement.forecast


def done_words(judgement: Judgement | None, now: datetime) -> str:
    forecast = _open_forecast(judgement)
    return f"done {words.ahead(forecast.done_at, now)}" if forecast is not None and forecast.done_at else ""


def done_spread(judgement: Judgement | None, now: datetime) -> str:
    forecast = _open_forecast(judgement)
    return words.span_words(forecast.done_low, forecast.done_high, now) if forecast is not None else ""


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


def verdict_words(lane: Lane) -> str:
    verdict = lane.judgement.verdict if lane.judgement else None
    if verdict is not None:
        return words.VERDICT_WORDS[verdict.kind]
    return "no verdict" if lane.batch is not None else "no batch"


def verdict_reason(lane: Lane, voice: Voice) -> str:
    """The most telling reason, or what is missing for a verdict."""
    verdict = lane.judgement.verdict if lane.judgement else None
    if verdict is not None:
        reason = voice.text(verdict.reasons[0]) if verdict.reasons else ""
        return reason.removeprefix(words.VERDICT_WORDS[verdict.kind]).lstrip(":,. ")
    if lane.batch is None:
        return "open one with `fermwatch batch open`"
    if newest(lane.probes, Quantity.GRAVITY) is None and not lane.measurements:
        return "no gravity probe, no hydrometer reading"
    return "not judged yet"


def verdict_ink(judgement: Judgement | None) -> Ink:
    verdict = judgement.verdict if judgement else None
    if verdict is None:
        return Ink.FAINT
    return {VerdictKind.SAFE: Ink.GOOD, VerdictKind.HOLD: Ink.WARNING}.get(verdict.kind, Ink.PLAIN)


def probe_words(probes: tuple[ProbeView, ...]) -> tuple[str, Ink]:
    """Freshness of every probe: one word while all are live, otherwise each one that is not."""
    if not probes:
        return "no probe", Ink.WARNING
    odd = [view for view in probes if view.freshness is not Freshness.LIVE or view.flagged]
    if not odd:
        return (f"all {len(probes)} probes live" if len(probes) > 1 else "probe live"), Ink.FAINT
    if len(probes) > 1 and all(view.freshness is Freshness.CUT_OFF for view in probes):
        newest_heard = min(probes, key=lambda view: view.age_s if view.age_s is not None else math.inf)
        return f"all {len(probes)} probes {words.freshness(newest_heard)}", Ink.WARNING
    said = ", ".join(f"{words.QUANTITY_WORDS[view.probe.quantity]} {words.freshness(view)}" for view in odd)
    live = len(probes) - len(odd)
    return said + (f", {live} live" if live else ""), Ink.WARNING


def worth_showing(alarms: tuple[Alarm, ...]) -> list[Alarm]:
    """Alarms that stand, or are over and were not seen, unless quiet on purpose: those that call somebody first, then
    what stands, by gravity and by age.
    """
    wanted = [alarm for alarm in alarms if (alarm.stands or _over_unseen(alarm)) and not alarm.is_quiet]
    return sorted(
        wanted,
        key=lambda alarm: (
            not alarm.needs_attention,
            not alarm.stands,
            _SEVERITY_ORDER.index(alarm.severity),
            alarm.raised_at.timestamp() if alarm.raised_at else 0.0,
            alarm.rule,
        ),
    )


def _over_unseen(alarm: Alarm) -> bool:
    """The feed leaves out those that have been over for long."""
    return alarm.unseen and alarm.cleared_at is not None and alarm.severity is not Severity.ADVICE


def quiet_alarms(alarms: tuple[Alarm, ...], now: datetime, voice: Voice) -> tuple[AlarmFacts, ...]:
    """Those that stand and are quiet on purpose, whoever or whatever decided it; what another alarm tells is told."""
    quiet = [alarm for alarm in alarms if alarm.stands and alarm.is_quiet and not alarm.told_by]
    return tuple(alarm_facts(alarm, now, voice) for alarm in quiet)


def _kept_quiet(alarms: tuple[Alarm, ...], now: datetime, voice: Voice) -> str:
    """too warm shelved until 14:00; of several, how many."""
    kept = quiet.kept_quiet(alarms)
    if len(kept) != 1:
        return quiet.counted(kept, now, voice)
    return f"{_brief(kept[0], voice)} {quiet.quiet_words(replace(kept[0], shelved_by=''), now, voice)}"


def _brief(alarm: Alarm, voice: Voice) -> str:
    return words.RULE_WORDS.get(alarm.rule) or voice.text(alarm.rule.replace("-", " "))


def band(lane: Lane, now: datetime) -> Band | None:
    """Where its beer should be: the yeast's range, or the rest, ramp or crash that was declared."""
    return None if lane.batch is None else band_of(lane.batch.yeast, lane.course, now)


def out_of_range(lane: Lane, now: datetime) -> str:
    """above, below, or empty: where the beer is by a reading that can be believed."""
    beer, meant = shown(newest(lane.probes, Quantity.BEER_TEMPERATURE), ""), band(lane, now)
    if meant is None or beer.value is None or beer.faulty:
        return ""
    phase = lane.judgement.phase.phase if lane.judgement is not None and lane.judgement.phase is not None else None
    return outside(beer.value, meant, phase) or ""


def alarm_facts(alarm: Alarm, now: datetime, voice: Voice) -> AlarmFacts:
    attention = alarm.needs_attention
    return AlarmFacts(
        alarm=alarm,
        mark=words.SEVERITY_MARKS[alarm.severity],
        ink=_SEVERITY_INK[alarm.severity] if attention else Ink.PLAIN,
        statement=voice.text(alarm.statement or alarm.rule),
        remedy=voice.text(alarm.remedy) if alarm.stands else "",
        brief=_brief(alarm, voice),
        state=_alarm_state(alarm, now, voice),
        began=words.brief_moment(alarm.raised_at or alarm.since, now, voice),
    )


def _alarm_state(alarm: Alarm, now: datetime, voice: Voice) -> str:
    if why := quiet.quiet_words(alarm, now, voice):
        return f"quiet: {why}"
    if not alarm.stands:
        over = f"over since {words.moment(alarm.cleared_at, now, voice)}" if alarm.cleared_at else "over"
        return over if alarm.acknowledged_at else f"{over}, not seen yet"
    began = alarm.raised_at or alarm.since
    said = f"since {words.moment(began, now, voice)}" if began else ""
    if alarm.last_known:
        said += ", by what was last heard"
    if alarm.acknowledged_at is not None:
        said += f", seen by {voice.text(alarm.acknowledged_by, 20) or 'somebody'}"
    return said.removeprefix(", ")
