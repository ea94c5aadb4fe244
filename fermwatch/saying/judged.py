"""What is concluded of a beer, in words: its phase, its end, the verdict in one sentence and the one next step."""

from datetime import datetime

from fermwatch.contracts.feed import Lane
from fermwatch.model.finding import Evidence, Phase, VerdictKind
from fermwatch.model.judgement import Forecast, Judgement, Verdict
from fermwatch.model.quantity import Quantity
from fermwatch.saying import words
from fermwatch.saying.ink import Ink
from fermwatch.saying.measured import newest
from fermwatch.saying.voice import Voice

LONGEST_VERDICT = 4000  # characters


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


def _open_forecast(judgement: Judgement | None) -> Forecast | None:
    """The forecast, as long as the beer is on its way to its end."""
    if judgement is None or judgement.forecast is None or judgement.forecast.done_at is None:
        return None
    if judgement.trend is not None and judgement.trend.estimated and judgement.forecast.done_at <= judgement.at:
        return None  # nobody has looked whether it is
    over = {Phase.STALLED, Phase.TERMINAL, Phase.CONDITIONING, Phase.PACKAGED}
    return None if judgement.phase is not None and judgement.phase.phase in over else judgement.forecast


def done_words(judgement: Judgement | None, now: datetime) -> str:
    forecast = _open_forecast(judgement)
    return f"done {words.ahead(forecast.done_at, now)}" if forecast is not None and forecast.done_at else ""


def done_spread(judgement: Judgement | None, now: datetime) -> str:
    forecast = _open_forecast(judgement)
    return words.span_words(forecast.done_low, forecast.done_high, now) if forecast is not None else ""


def verdict_words(lane: Lane) -> str:
    verdict = lane.judgement.verdict if lane.judgement else None
    if verdict is not None:
        package = lane.batch.package if lane.batch is not None else None
        return words.verdict_words(verdict.kind, keg=package is not None and package.way is not None)
    return "no verdict" if lane.batch is not None else "no batch"


def verdict_sentence(lane: Lane, voice: Voice) -> str:
    """The verdict in one sentence, or what is missing for one."""
    verdict = lane.judgement.verdict if lane.judgement else None
    if verdict is not None:
        return voice.text(verdict.sentence) or verdict_words(lane)
    missing = _no_verdict(lane)
    return f"{verdict_words(lane)}: {missing}"


def _no_verdict(lane: Lane) -> str:
    if lane.batch is None:
        return "open one with `fermwatch batch open`"
    if newest(lane.probes, Quantity.GRAVITY) is None and not lane.measurements:
        return "no gravity probe, no hydrometer reading"
    return "not judged yet"


def next_step(lane: Lane, now: datetime, voice: Voice) -> str:
    """The one thing to do, or to wait for, and when; empty where there is none."""
    verdict = lane.judgement.verdict if lane.judgement else None
    return "" if verdict is None else step_words(verdict, now, voice)


def step_words(verdict: Verdict, now: datetime, voice: Voice) -> str:
    """The step behind its time, then what is to be done meanwhile, which has one of its own."""
    step, beside = voice.text(verdict.next_step), voice.text(verdict.next_beside)
    if step and verdict.next_at is not None and verdict.next_at > now:
        step = f"{words.moment(verdict.next_at, now, voice)} ({words.ahead(verdict.next_at, now)}): {step}"
        beside = f"Meanwhile: {beside}" if beside else ""
    return " ".join(part for part in (step, beside) if part)


def further_reasons(verdict: Verdict, voice: Voice) -> list[str]:
    """Of a beer to be held or called safe, what neither its sentence nor its evidence says already."""
    if verdict.sentence and verdict.kind not in {VerdictKind.HOLD, VerdictKind.SAFE}:
        return []
    told = " ".join((verdict.sentence, verdict.next_steps, *(one.statement for one in verdict.evidence)))
    said = voice.text(told, LONGEST_VERDICT).casefold()
    reasons = (voice.text(reason) for reason in verdict.reasons)
    return [reason for reason in reasons if reason.rstrip(".").casefold() not in said]


def of_phase_alone(judgement: Judgement) -> tuple[Evidence, ...]:
    """What the phase rests on, but for what the verdict's evidence says as well."""
    if judgement.phase is None or judgement.verdict is None:
        return () if judgement.phase is None else judgement.phase.evidence
    told = judgement.verdict.evidence
    names, statements = {one.name for one in told}, " ".join(one.statement for one in told)
    return tuple(
        one
        for one in judgement.phase.evidence
        if one.name not in names and one.statement.partition(" (")[0] not in statements
    )


def verdict_ink(judgement: Judgement | None) -> Ink:
    verdict = judgement.verdict if judgement else None
    if verdict is None:
        return Ink.FAINT
    return {VerdictKind.SAFE: Ink.GOOD, VerdictKind.HOLD: Ink.WARNING}.get(verdict.kind, Ink.PLAIN)
