"""From what was concluded to what is said: instants, SG, and sentences with their numbers."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fermwatch.judgement.advice import Advice, advise
from fermwatch.judgement.bottling import CHANGED, VerdictMemory, unread_days
from fermwatch.judgement.facts import gravity_sg
from fermwatch.judgement.filling import judged_at, named
from fermwatch.judgement.forecast import Outlook
from fermwatch.judgement.gates import Checked, Gate, first_heard
from fermwatch.judgement.kalman import DRIFT, FOAM, OFFSET, SHARE
from fermwatch.judgement.leftover import pace_of, read_twice
from fermwatch.judgement.next_reading import Asked, next_reading
from fermwatch.judgement.phase import PhaseMemory
from fermwatch.judgement.view import Measured, View
from fermwatch.model.amounts import points
from fermwatch.model.batch import Batch
from fermwatch.model.finding import Evidence, Phase, VerdictKind
from fermwatch.model.judgement import Forecast, Judgement, PhaseStatement, Trend, Verdict

PHASE_SAYS = {Phase.LAG: "in its lag", Phase.NOT_STARTED: "not started", Phase.ACTIVE: "still fermenting"}
UNSEEN = {Phase.LAG, Phase.ACTIVE, Phase.SLOWING}  # what goes over into another phase by itself, unseen
ONE_SIDED_95 = 1.645

Instant = Callable[[float], datetime]


@dataclass(frozen=True, slots=True)
class Step:
    """Everything after one bin."""

    view: View
    phase: PhaseMemory
    verdict: VerdictMemory
    gates: tuple[Checked, ...]


def judgement_of(batch: Batch, steps: Sequence[Step], outlook: Outlook | None) -> Judgement:
    """The whole of it, as it stands after the last step."""
    latest = steps[-1]

    def instant(hour: float) -> datetime:
        return batch.pitched_at + timedelta(seconds=round(hour * 3600.0))

    return Judgement(
        at=instant(latest.view.hour),
        trend=None if latest.view.measured is None else _trend(latest.view, latest.view.measured, instant),
        phase=_phase(latest, instant),
        forecast=None if outlook is None or latest.view.measured is None else _forecast(latest, outlook, instant),
        verdict=_verdict(latest, outlook, instant),
    )


def said_at(judgement: Judgement, now: datetime) -> Judgement:
    """The same, said at `now`, before its last bin has ended: nothing in it dates from later."""
    trend, phase, verdict = judgement.trend, judgement.phase, judgement.verdict
    return replace(
        judgement,
        at=now,
        trend=None if trend is None else replace(trend, at=now),
        phase=None if phase is None else replace(phase, since=min(phase.since, now)),
        verdict=None if verdict is None else replace(verdict, since=min(verdict.since, now)),
    )


def _trend(view: View, measured: Measured, instant: Instant) -> Trend:
    estimate, decline = view.estimate, pace_of(view)
    ever_probed = any(b.gravity is not None for b in view.bins)

    def probe(value: float) -> float | None:
        return float(value) if ever_probed else None

    return Trend(
        at=instant(view.hour),
        gravity_sg=gravity_sg(view.gravity),
        gravity_sd_points=view.said_sd,
        rate_points_per_day=-decline.points_per_day,
        rate_sd_points_per_day=decline.sd,
        apparent_attenuation=view.attenuation_read,
        probe_offset_points=probe(estimate.mean[OFFSET]),
        probe_offset_sd_points=probe(estimate.sd(OFFSET)),
        probe_drift_points_per_day=probe(estimate.mean[DRIFT]),
        probe_drift_sd_points_per_day=probe(estimate.sd(DRIFT)),
        temperature_share=probe(estimate.mean[SHARE]),
        foam_points=probe(estimate.mean[FOAM]),
        temperature_c=view.temperature_c if view.bins[-1].temperature_known else None,
        measured_sg=gravity_sg(measured.gravity),
        measured_at=instant(measured.hour),
        measured_by=measured.by,
        estimated=not view.speaks_of_now,
        remark=_remark(view),
        original_sg=gravity_sg(view.facts.original),
    )


def _remark(view: View) -> str:
    """The probe's offset, where it is large enough that somebody who looks at both numbers would wonder."""
    if not view.probe_off:
        return ""
    off = view.probe_apart if view.probe_contradicts else view.probe_off
    way = "lower" if off < 0.0 else "higher"
    than = "the hydrometer says" if view.read_by_hand else "the original gravity lets expect"
    return f"the probe reads {points(abs(off), 0)} {way} than {than}"


def _phase(step: Step, instant: Instant) -> PhaseStatement | None:
    """None where nothing tells which phase it is in now; one that only a new reading could end is still said."""
    said = step.phase
    if said.phase in UNSEEN and not step.view.speaks_of_now:
        return None
    return PhaseStatement(said.phase, instant(said.since_h), said.reason, _phase_evidence(step))


def _phase_evidence(step: Step) -> tuple[Evidence, ...]:
    view, stall = step.view, step.phase.stall
    decline = pace_of(view)
    found = [
        Evidence(
            "decline",
            step.phase.phase in {Phase.TERMINAL, Phase.CONDITIONING},
            f"{decline}, steepest so far {points(step.phase.steepest, 1)} a day",
        ),
        Evidence(
            "attenuation",
            view.attenuation >= view.facts.attenuation_low,
            f"apparent attenuation {max(view.attenuation_read, 0.0):.0%} of {view.facts.attenuation_low:.0%} to "
            f"{view.facts.attenuation_high:.0%}",
        ),
    ]
    if stall is not None and step.phase.phase is Phase.STALLED:
        above, least = points(stall.above, 1), points(stall.threshold, 1)
        statement = f"{above} above the highest end expected, falling less than {least} a day"
        found.append(Evidence("stopped too high", True, statement))
    return tuple(found)


def _forecast(step: Step, outlook: Outlook, instant: Instant) -> Forecast:
    """What was reckoned some hours ago, cut at the beer as it is known now: it does not rise to its end."""
    view = step.view
    if step.phase.phase is Phase.STALLED:
        return _forecast_of_yeast(view, outlook, instant)
    # A time that is past is no forecast: whether it is done, readings tell; nor is one of beer that has not begun.
    undated = outlook.done <= view.hour or step.phase.phase in {Phase.LAG, Phase.NOT_STARTED}
    most, now, terminal, high = _known_now(view), view.gravity, outlook.terminal, outlook.high
    if (steady := _stands_at(step)) is not None:  # whatever curve and probe say besides, it is no further down
        most, now, high = max(most, steady), max(now, steady), max(high, steady)
        terminal = max(terminal, steady - view.remaining.expected)
    above = max(terminal - min(now, most), 0.0)
    highest = min(high - above, most)
    return Forecast(
        at=instant(outlook.hour),
        terminal_sg=gravity_sg(terminal - above),
        low_sg=gravity_sg(min(outlook.low - above, most)),
        high_sg=gravity_sg(highest if steady is None else max(highest, steady)),
        done_at=None if undated else instant(outlook.done),
        done_low=None if undated else instant(outlook.done_low),
        done_high=None if undated else instant(outlook.done_high),
        cannot_know=outlook.cannot_know,
        rests_on=view.facts.rests_on,
    )


def _stands_at(step: Step) -> float | None:
    """Points that two agreeing hydrometer readings, days apart, found; None without, or where it falls for certain."""
    pair = None if step.phase.phase is Phase.RESTARTED else read_twice(step.view)
    return None if pair is None else min(one.gravity for one in pair)


def _known_now(view: View) -> float:
    """Points that it has come down to for certain enough: what a hydrometer read last, else what all readings tell.

    Of one that nobody looked at for long, what is reckoned for now may be as far off as is said of it.
    """
    reckoned = view.gravity if view.speaks_of_now else view.gravity + ONE_SIDED_95 * view.said_sd
    read = view.since_restart()
    return min(reckoned, read[-1].gravity) if read and read[-1].level_known else reckoned


def _forecast_of_yeast(view: View, outlook: Outlook, instant: Instant) -> Forecast:
    """Stopped short: its course says nothing of its end, its yeast does; and nobody knows when."""
    facts, most = view.facts, _known_now(view)
    low, middle, high = facts.lowest_end, facts.expected_end, facts.highest_end
    return Forecast(
        at=instant(outlook.hour),
        terminal_sg=gravity_sg(min(middle, most)),
        low_sg=gravity_sg(min(low, middle, most)),
        high_sg=gravity_sg(min(high, most)),
        cannot_know=outlook.cannot_know,
        basis="yeast",
        rests_on=facts.rests_on,
    )


def _verdict(step: Step, outlook: Outlook | None, instant: Instant) -> Verdict:
    said = step.verdict
    asked = next_reading(step.view, said, step.phase, step.gates)
    told = advise(step.view, said, step.phase, step.gates, asked, outlook)
    return Verdict(
        kind=said.kind,
        since=instant(said.since_h),
        reasons=_reasons(step, asked.why if asked else ""),
        evidence=tuple(_said_of(checked, said.kind) for checked in step.gates),
        next_reading_at=instant(asked.hour) if asked else None,
        next_reading_why=asked.why if asked else "",
        sentence=told.sentence,
        next_step=told.step,
        next_at=None if told.hour is None else instant(told.hour),
        safe_from=_safe_from(step, asked, told, instant),
        next_beside=told.beside,
        withdrawn="" if said.unlatched_by == CHANGED else said.unlatched_by,
    )


def _safe_from(step: Step, asked: Asked | None, told: Advice, instant: Instant) -> datetime | None:
    """By the readings that are asked for; where none is, once what is waited for is over."""
    if step.verdict.kind is VerdictKind.SAFE:
        return None
    waits_alone = all(checked.met for checked in step.gates)
    settles_h = asked.settles_h if asked is not None else told.hour if waits_alone else None
    return None if settles_h is None else instant(max(settles_h, step.view.hour))


def _said_of(checked: Checked, kind: VerdictKind) -> Evidence:
    """Under a `safe` that stands nothing is asked for any more: what lapsed was met when it was found safe."""
    return replace(checked.evidence, remedy="") if kind is VerdictKind.SAFE else checked.evidence


def _reasons(step: Step, ask: str) -> tuple[str, ...]:
    said, unmet = step.verdict, [checked for checked in step.gates if not checked.met]
    if said.kind is VerdictKind.HOLD:
        return said.holds
    if said.kind is VerdictKind.SAFE:
        return _safe_reasons(step)
    unmet.sort(key=lambda checked: checked.readable or checked.gate is not Gate.PACKAGE)  # first what no waiting cures
    found = [f"{one.evidence.statement}. {one.evidence.remedy}".strip() for one in unmet]
    if not found:
        held = min(said.met_h, said.all_but_answers_met_h)
        found = [
            f"all conditions met for {held:.0f} h; {step.view.settings.hold_h:.0f} h without a break are asked for"
        ]
    if step.view.measured is None:
        found.insert(0, first_heard(step.view) or "nothing heard since the pitch")
    elif step.phase.phase in PHASE_SAYS and step.view.speaks_of_now:
        found.insert(0, f"{PHASE_SAYS[step.phase.phase]}: not fermented out")
    if said.unlatched_by:
        found.insert(0, f"no longer safe: {said.unlatched_by}")
    return (*found, ask) if ask and said.kind is VerdictKind.CONFIRM else tuple(found)


def _safe_reasons(step: Step) -> tuple[str, ...]:
    unmet = [checked for checked in step.gates if not checked.met]
    met = [checked.evidence.statement for checked in step.gates if checked.met]
    choice = step.view.facts.package
    if choice is not None and not any(checked.gate is Gate.PACKAGE for checked in unmet):
        met.insert(0, f"safe in a {named(choice)}, at {judged_at(step.view.facts.warmest)}")
    if not unmet:
        return tuple(met)
    return (_latched(step, [str(checked.gate) for checked in unmet]), *met)


def _latched(step: Step, unmet: Sequence[str]) -> str:
    """Why it is called safe although not all is met any more, and for how long."""
    view, since_h = step.view, step.verdict.safe_since_h
    since_h = view.hour if since_h is None else since_h
    return (
        f"safe for {_days((view.hour - since_h) / 24.0)}, and not all is shown any more ({', '.join(unmet)}); it stays "
        f"safe until gravity falls again, something is added or it is moved, or {_days(view.settings.latch_days)} pass "
        f"without a fresh reading ({_days(unread_days(since_h, view))} so far)"
    )


def _days(days: float) -> str:
    whole = int(days)
    return f"{whole} day{'' if whole == 1 else 's'}"
