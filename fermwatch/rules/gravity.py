"""Rules about gravity: they put the judgement's phase and trend into findings, and add what a trend alone shows."""

from collections.abc import Iterable
from datetime import timedelta

from fermwatch.brewing.attenuation import expected
from fermwatch.model.amounts import NOT_KNOWN, gravity, instant, pace, points, temperature, temperature_range
from fermwatch.model.batch import BRINGS_EXTRACT, Batch, Event, EventKind, GravityOrigin
from fermwatch.model.event_data import shows_life
from fermwatch.model.finding import Finding, Phase, Severity, VerdictKind
from fermwatch.model.judgement import Judgement, PhaseStatement
from fermwatch.model.quantity import Quantity
from fermwatch.model.rule_settings import RuleSettings
from fermwatch.model.subject import About
from fermwatch.rules.remedies import circumstances, of_a_late_start, of_a_stall
from fermwatch.rules.situation import Situation
from fermwatch.science.attenuation import causes_above_range

SLOW_START = "slow-start"
STALLED = "stalled"
RESTARTED = "restarted"
RISING = "gravity-rising"
IMPLAUSIBLE = "gravity-implausible"
ABOVE_RANGE = "attenuation-above-range"
DRIFTING = "probe-drifting"
READING_DUE = "reading-due"
WITHDRAWN = "safe-no-more"

ONE_SIDED_95 = 1.645
STARTED_POINTS = 3.0  # fallen since the pitch: then it has started, whenever that was measured
START_GRACE = timedelta(hours=12)
DUE_MOVES = timedelta(days=1)
READINGS_BY_HAND = "readings by hand"

SINCE_THEN = {
    Phase.LAG: "it is within its lag",
    Phase.NOT_STARTED: "it has not started",
    Phase.ACTIVE: "it ferments",
    Phase.SLOWING: "it ferments, more slowly",
    Phase.RESTARTED: "it ferments again",
    Phase.STALLED: "it stands still",
    Phase.TERMINAL: "it has finished",
    Phase.CONDITIONING: "it has finished",
    Phase.PACKAGED: "it is in its package",
}

RESTART_REMEDY = "Do not bottle. Let it finish again: it is judged anew from here."


def phases(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """Not started, stalled and restarted, as the judgement has them, with its evidence."""
    if situation.batch is None:
        return
    subject = About.BATCH.of(situation.batch.id)
    judged = situation.judgement
    said = judged.phase if judged is not None else None
    known = circumstances(situation)
    for rule, phase, remedy in (
        (SLOW_START, Phase.NOT_STARTED, of_a_late_start(known).text),
        (STALLED, Phase.STALLED, of_a_stall(known).text),
        (RESTARTED, Phase.RESTARTED, RESTART_REMEDY),
    ):
        if rule == SLOW_START and judged is not None and _start_not_shown(judged):
            yield _unheard(situation, situation.batch, subject)
            continue
        if judged is None or said is None:
            yield Finding(rule, subject, holds=None)
        elif said.phase is not phase:
            yield Finding(rule, subject, holds=False, statement=_over(judged, said))
        else:
            statement = _statement(judged, said, situation.batch, situation.events, known.temperature_c)
            yield Finding(rule, subject, holds=True, statement=statement, remedy=remedy)


def _start_not_shown(judged: Judgement) -> bool:
    """Whether nothing that was measured tells if it has started: a reading with gas in it may tell nothing either."""
    return judged.trend is None or judged.phase is None or judged.phase.phase is Phase.LAG


def _over(judged: Judgement, said: PhaseStatement) -> str:
    """What is over is told by what is so now, and not as if that were the alarm."""
    trend = judged.trend
    moves = "" if trend is None else f", {pace(trend.rate_points_per_day, trend.rate_sd_points_per_day)}"
    return f"{SINCE_THEN[said.phase]}{moves}"


def _unheard(situation: Situation, batch: Batch, subject: str) -> Finding:
    """No gravity that speaks of now: past the longest lag somebody is asked whether there are signs of life.

    An older reading that shows a fall has answered, however long ago it was taken.
    """
    due = batch.pitched_at + timedelta(hours=batch.yeast.lag_max_h) + START_GRACE
    noted = any(shows_life(event.kind, event.data) and not event.voided for event in situation.events)
    heard = any(
        probe.quantity is Quantity.GRAVITY and not probe.flagged and probe.last_at and probe.last_at >= batch.pitched_at
        for probe in situation.probes
    )
    packaged = any(event.kind is EventKind.PACKAGED and not event.voided for event in situation.events)
    answers = {
        "its gravity is heard now": heard,
        f"it has started: {_last_read(situation)} was measured": _has_fallen(situation, batch),
        "signs of life were noted": noted,
        "it is in its package": packaged,
    }
    last = _last_read(situation)
    known = f"{last} was measured last, which does not show it" if last else "no gravity was measured"
    asked = f"nobody said of it whether it has started: {known}, and no signs of life were noted since the pitch"
    return Finding(
        SLOW_START,
        subject,
        holds=situation.now >= due and not any(answers.values()),
        severity=Severity.WARNING if _last_read(situation) else Severity.ADVICE,
        statement=next((answer for answer, holds in answers.items() if holds), asked),
        remedy=f"Note them: `fermwatch note {batch.vessel} signs-of-life`. A hydrometer reading tells for certain.",
    )


def _last_read(situation: Situation) -> str:
    trend = None if situation.judgement is None else situation.judgement.trend
    return "" if trend is None or trend.measured_sg is None else gravity(trend.measured_sg)


def _has_fallen(situation: Situation, batch: Batch) -> bool:
    trend = None if situation.judgement is None else situation.judgement.trend
    last_sg = None if trend is None else trend.measured_sg
    return last_sg is not None and (batch.original_sg - last_sg) * 1000.0 >= STARTED_POINTS


def _statement(
    judged: Judgement, said: PhaseStatement, batch: Batch, events: tuple[Event, ...], temperature_c: float | None
) -> str:
    parts = [f"{said.phase}: {said.reason}" if said.reason else str(said.phase)]
    if judged.trend is not None:
        trend = judged.trend
        above = (trend.gravity_sg - expected(batch, events).ends_sg[1]) * 1000
        moves = pace(trend.rate_points_per_day, trend.rate_sd_points_per_day)
        if said.phase is not Phase.NOT_STARTED and not moves.startswith(NOT_KNOWN):  # that it stands is told otherwise
            parts.append(moves)
        if above > 0:
            parts.append(f"{points(above, 0)} above where it should end at the highest")
        if temperature_c is not None:
            within = temperature_range(batch.yeast.temperature_low_c, batch.yeast.temperature_high_c)
            parts.append(f"beer {temperature(temperature_c)}, range {within}")
    return ", ".join(parts)


def trend_findings(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """Rising gravity, attenuation above the range, and a probe that drifts away from the hydrometer."""
    batch, judged = situation.batch, situation.judgement
    if batch is None:
        return
    subject = About.BATCH.of(batch.id)
    if judged is None or judged.trend is None:
        for rule in (RISING, ABOVE_RANGE, DRIFTING):
            yield Finding(rule, subject, holds=None, statement="too little gravity for a trend")
        return
    trend = judged.trend
    low_rate = trend.rate_points_per_day - ONE_SIDED_95 * trend.rate_sd_points_per_day
    yield Finding(
        RISING,
        subject,
        holds=None if trend.estimated else low_rate > settings.rising_points_per_day,
        statement=f"gravity rises by {points(trend.rate_points_per_day, 1)} a day",
        remedy="Beer gains no extract by itself: look at the probe, and note sugar, fruit or a blend if there was one.",
    )
    measure = "" if situation.read_by_hand else "Measure by hand first. "
    expectation = expected(batch, situation.events)
    highest, whose = expectation.high, "what its wort should reach," if expectation.corrected else "the yeast's"
    spread = trend.gravity_sd_points / max((batch.original_sg - 1.0) * 1000, 1.0)
    yield Finding(
        ABOVE_RANGE,
        subject,
        holds=trend.apparent_attenuation - ONE_SIDED_95 * spread > highest,
        statement=(
            f"apparent attenuation {trend.apparent_attenuation:.0%}, above {whose} {highest:.0%}; "
            f"likeliest first: {'; '.join(_causes(situation, batch, judged))}"
        ),
        remedy=(
            f"{measure}Do not bottle, and chill what is bottled: two hydrometer readings 14 days apart tell whether it "
            "creeps."
        ),
    )
    drift, sd = trend.probe_drift_points_per_day, trend.probe_drift_sd_points_per_day
    if drift is not None and sd is not None:
        # Once told, what is known less well for a while is no end of it: a drift of half as much is.
        stands = situation.stands(DRIFTING, subject)
        least = abs(drift) - (0.0 if stands else ONE_SIDED_95 * sd)
        yield Finding(
            DRIFTING,
            subject,
            holds=least > settings.drift_points_per_day * (0.5 if stands else 1.0),
            severity=Severity.ADVICE,
            statement=f"the gravity probe drifts from the hydrometer by {points(drift, 1, signed=True)} a day",
            remedy="Trust the hydrometer. Clean the float when the batch is over.",
        )


def _causes(situation: Situation, batch: Batch, judged: Judgement) -> tuple[str, ...]:
    by_probe = judged.trend is not None and judged.trend.measured_by == "probe"
    return causes_above_range(
        probe_unchecked=by_probe and not situation.read_by_hand,
        original_doubtful=batch.original_origin is not GravityOrigin.MEASURED,
        sugars_declared=bool(batch.extract_adjuncts_g_per_l)
        or any(event.kind in BRINGS_EXTRACT and not event.voided for event in situation.events),
        diastatic=batch.yeast.diastatic,
    )


def implausible(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """A gravity probe that says what beer cannot be."""
    for probe in situation.probes:
        if probe.quantity is Quantity.GRAVITY:
            yield Finding(
                IMPLAUSIBLE,
                About.PROBE.of(probe.slug),
                holds=None if probe.last_at is None else bool(probe.flagged),
                statement=f"{probe.flagged}; the readings are kept and not judged by"
                if probe.flagged
                else "plausible again",
                remedy="Measure by hand, and look whether the float sticks, lies on its side, or is covered in foam.",
                quiet_because="no beer is in the fermenter" if situation.batch is None else "",
            )


def reading_due(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """The one hydrometer reading that may settle the verdict; none while two contradict each other: that is first."""
    batch, judged = situation.batch, situation.judgement
    if batch is None or judged is None or judged.verdict is None:
        return
    verdict = judged.verdict
    due, subject = verdict.next_reading_at, About.BATCH.of(batch.id)
    waiting = verdict.kind in {VerdictKind.CONFIRM, VerdictKind.NOT_YET}
    # Once told it stands, though what is reckoned moves by some hours: nobody is told of one reading twice.
    until = situation.now + (DUE_MOVES if situation.stands(READING_DUE, subject) else timedelta())
    contradicting = any(one.name == READINGS_BY_HAND and not one.met for one in verdict.evidence)
    holds = waiting and not contradicting and due is not None and due <= until
    since = f" since {instant(due)}" if due is not None and due <= situation.now else ""
    asked = f"a hydrometer reading is due{since}, when you next pass. {verdict.next_reading_why}".strip(". ")
    yield Finding(
        READING_DUE,
        subject,
        holds=holds,
        severity=Severity.ADVICE,
        statement=asked if holds else "no hydrometer reading is asked for now",
        remedy=f"Take one degassed hydrometer reading and enter it with `fermwatch measure {batch.vessel} hydrometer`.",
    )


def withdrawn(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """It was found safe to bottle, and is not any more: whoever read that has a right to be told."""
    batch, judged = situation.batch, situation.judgement
    if batch is None or judged is None or judged.verdict is None:
        return
    why, subject = judged.verdict.withdrawn, About.BATCH.of(batch.id)
    yield Finding(
        WITHDRAWN,
        subject,
        holds=bool(why),
        statement=f"it was found safe to bottle, and is not any more: {why}" if why else "nothing is withdrawn",
        remedy="Do not bottle it. What was filled since it was said may come to too much pressure: cold, in a closed "
        f"box, and told with `fermwatch batch package {batch.vessel}`, which says what to do then.",
        told_by=situation.teller(subject, RESTARTED),
    )
