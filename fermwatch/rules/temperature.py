"""Rules about the beer's temperature: outside the yeast's range, about to leave it, off set point, near freezing."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from fermwatch.model.amounts import temperature, temperature_range, warmth
from fermwatch.model.batch import Batch
from fermwatch.model.finding import Finding, Phase, Severity
from fermwatch.model.intent import (
    COLD_RULE,
    FINISHED,
    HEAT_RULE,
    NOTHING_DECLARED,
    ON_ITS_WAY,
    RULES_OF_SIDES,
    TOLERANCE_C,
    UNDER_WAY_C_PER_DAY,
    Band,
    Meant,
    Side,
    band_of,
    harmless,
)
from fermwatch.model.rule_settings import RuleSettings
from fermwatch.model.subject import About
from fermwatch.rules.asking import looks_like_rest, not_yet_answered
from fermwatch.rules.effect import NO_EFFECT
from fermwatch.rules.remedies import circumstances, of_cold, of_frost, of_heat
from fermwatch.rules.situation import WINDOW, Situation, median_of, since, slope_c_per_h

HIGH, LOW = HEAT_RULE, COLD_RULE
LEAVING = "leaving-range"
NEAR_FREEZING = "near-freezing"

HOUR = timedelta(hours=1)
QUARTER = timedelta(minutes=15)
SIDES = {rule: side for side, rule in RULES_OF_SIDES.items()}
MUCH_HEAT_C = 6.0  # beyond its range, which no rest goes to
BACK_WITHIN = timedelta(hours=48)  # after a rest or crash: the way back into the range


def outside_range(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """The 1-h median beyond where the beer should be (warning) and the 15-min median far beyond it (critical)."""
    yield _side(situation, settings, HIGH)
    yield _side(situation, settings, LOW)


def _side(situation: Situation, settings: RuleSettings, rule: str) -> Finding:
    """Beyond the yeast's range the finding holds, and is quiet where that is meant; beyond what is meant it speaks."""
    subject, batch, side = About.FERMENTER.of(situation.vessel), situation.batch, SIDES[rule]
    if batch is None or situation.phase is Phase.PACKAGED:
        return Finding(rule, subject, holds=False, statement="no beer is fermenting in it")
    hour = median_of(situation.beer, situation.now, HOUR)
    if hour is None:
        return Finding(rule, subject, holds=None, statement="no beer temperature for over an hour")
    known = circumstances(situation)
    standing = situation.standing.get((rule, subject))
    spoken = standing is not None and standing.stands and not standing.suppressed_by
    limit = settings.outside_clears_c if spoken else settings.outside_warning_c
    quarter = _quarter(situation, hour)
    severity = _severity(known.band.beyond_c(side, quarter), side, situation, settings)
    unmeant = known.band.beyond_c(side, hour) > limit or severity is Severity.CRITICAL
    usual = band_of(batch.yeast, NOTHING_DECLARED, situation.now)
    stands = standing is not None and standing.stands
    beyond_usual = usual.beyond_c(side, hour) > (settings.outside_clears_c if stands else settings.outside_warning_c)
    quiet = _quiet(side, hour, situation, settings, batch, unmeant=unmeant)
    remedy = (of_heat if side is Side.ABOVE else of_cold)(known)
    by_usual = (beyond_usual and not unmeant) or (side is Side.ABOVE and known.course.crashed)
    return Finding(
        rule,
        subject,
        holds=unmeant or beyond_usual,
        severity=severity,
        statement=_statement(side, hour, quarter, usual if by_usual else known.band),
        remedy="" if quiet else remedy.text,
        quiet_because=quiet,
    )


def _quarter(situation: Situation, hour: float) -> float:
    """A float that speaks every half hour has no 15-min median most of the time."""
    quarter = median_of(situation.beer, situation.now, QUARTER)
    return hour if quarter is None else quarter


def _severity(beyond_c: float, side: Side, situation: Situation, settings: RuleSettings) -> Severity:
    """Late heat does little to the flavour, and is said quietly unless there is much of it."""
    rule = HIGH if side is Side.ABOVE else LOW
    standing = situation.standing.get((rule, About.FERMENTER.of(situation.vessel)))
    before = standing.severity if standing is not None and standing.stands else None
    if side is Side.ABOVE and situation.late:
        much_c = MUCH_HEAT_C - (settings.outside_warning_c if before is Severity.WARNING else 0.0)
        return Severity.WARNING if beyond_c > much_c else Severity.ADVICE
    limit = settings.outside_critical_c - (settings.outside_warning_c if before is Severity.CRITICAL else 0.0)
    return Severity.CRITICAL if beyond_c > limit else Severity.WARNING


def _statement(side: Side, hour_c: float, quarter_c: float, band: Band) -> str:
    """Where it is of where it should be; of an alarm that is over it may be on the other side by now.

    What moves fast is beyond for a quarter of an hour before the whole hour is.
    """
    fast = band.beyond_c(side, hour_c) <= 0.0 < band.beyond_c(side, quarter_c)
    said_c, span = (quarter_c, "15 min") if fast else (hour_c, "1 h")
    where = side if band.beyond_c(side, said_c) > 0 else band.side(said_c)
    beer, edges = f"beer {temperature(said_c)} (median of {span})", temperature_range(band.low_c, band.high_c)
    if where is None:
        return f"it was {side} and is back: {beer}, within {band.name} of {edges}"
    return f"{beer}, {warmth(band.beyond_c(where, said_c))} {where} {band.name} of {edges}"


def _quiet(
    side: Side, hour_c: float, situation: Situation, settings: RuleSettings, batch: Batch, *, unmeant: bool
) -> str:
    course, now = situation.course, situation.now
    if course.meant is not None and not unmeant:
        return f"planned {course.meant.kind}"
    if course.meant is not None and _under_way(situation, course.meant, side, hour_c, batch):
        return f"{ON_ITS_WAY} {course.meant.kind}"
    if harmless(side, situation.phase):
        return "cold after finishing does no harm"
    moving = _moving(situation, side)
    # In the first hour nothing can yet be said of where it moves.
    age, settling = now - batch.pitched_at, timedelta(hours=settings.settling_h)
    if timedelta() <= age < (settling if moving else min(settling, HOUR)):  # a clock that was set back hides nothing
        return f"pitched outside the range and moving toward it; judged after {settings.settling_h:.0f} h"
    left_over = course.over is not None and _meant_until_then(course.over, course.over_at or now, side, hour_c, batch)
    if course.over is not None and left_over and now - (course.over_at or now) < (BACK_WITHIN if moving else HOUR):
        return f"the {course.over.kind} is over, and it moves back toward the range"
    if side is Side.ABOVE and looks_like_rest(situation, settings) and not_yet_answered(situation):
        return "it looks like a diacetyl rest, and you are asked"
    return ""


def _under_way(situation: Situation, meant: Meant, side: Side, hour_c: float, batch: Batch) -> bool:
    """Whether it goes toward what was declared, from where it was meant to be: however long that takes.

    By the last hours; or since it was declared, for a controller that takes a step a day.
    """
    sign, paces = 1.0 if side is Side.BELOW else -1.0, list[float]()
    slope = slope_c_per_h(since(situation.beer, situation.now, WINDOW))
    if slope is not None:
        paces.append(sign * slope * 24.0)
    days = (situation.now - meant.begun_at) / timedelta(days=1)
    if meant.from_c is not None and days > 0.0:
        paces.append(sign * (hour_c - meant.from_c) / days)
    toward = max(paces, default=0.0) >= UNDER_WAY_C_PER_DAY
    return toward and meant.band(batch.yeast, meant.begun_at).beyond_c(side, hour_c) <= TOLERANCE_C


def _meant_until_then(over: Meant, over_at: datetime, side: Side, hour_c: float, batch: Batch) -> bool:
    """Whether what is over explains it: a rest at 22 °C leaves no beer at 28."""
    return over.band(batch.yeast, over_at).beyond_c(side, hour_c) <= TOLERANCE_C


def _moving(situation: Situation, side: Side) -> bool:
    """Whether it moves back from this side."""
    slope = slope_c_per_h(since(situation.beer, situation.now, 3 * HOUR))
    return slope is not None and (slope < -0.05 if side is Side.ABOVE else slope > 0.05)


def leaving_range(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """Still inside, but at this trend outside within hours. Where something else is planned it is expected to move."""
    subject, batch, meant = About.FERMENTER.of(situation.vessel), situation.batch, situation.course.meant
    if batch is None or situation.phase in FINISHED or meant is not None:
        why = f"a {meant.kind} is planned" if meant is not None else "no beer is fermenting in it"
        yield Finding(LEAVING, subject, holds=False, statement=why)
        return
    recent = since(situation.beer, situation.now, 3 * HOUR)
    slope = slope_c_per_h(recent)
    if slope is None:
        yield Finding(LEAVING, subject, holds=None, statement="too few temperatures for a trend")
        return
    lately = median_of(situation.beer, situation.now, HOUR / 2)
    here = recent[-1].value if lately is None else lately
    band = band_of(batch.yeast, NOTHING_DECLARED, situation.now)
    edge_c = band.high_c if slope > 0 else band.low_c
    hours = abs(edge_c - here) / abs(slope) if abs(slope) > 0.05 else float("inf")
    inside = band.low_c <= here <= band.high_c
    ahead = (
        f"reaches {temperature(edge_c, None)} in about {min(hours, 99):.0f} h" if inside else "it has left the range"
    )
    yield Finding(
        LEAVING,
        subject,
        holds=inside and hours < settings.leaving_within_h and not (slope > 0 and situation.late),
        severity=Severity.ADVICE,
        statement=f"beer {temperature(here)}, {warmth(slope, signed=True)} an hour: {ahead}",
        remedy=f"Look at the set point and at the door now: it is still inside {band.name}.",
        told_by=situation.teller(subject, NO_EFFECT),
    )


def near_freezing(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """Beer freezes a few degrees below water; a crash goes near it on purpose, and an empty fermenter may."""
    subject = About.FERMENTER.of(situation.vessel)
    if situation.batch is None:
        yield Finding(NEAR_FREEZING, subject, holds=False, statement="no beer is in it")
        return
    now_c = median_of(situation.beer, situation.now, QUARTER)
    if now_c is None:
        now_c = median_of(situation.beer, situation.now, HOUR)
    if now_c is None:
        yield Finding(NEAR_FREEZING, subject, holds=None, statement="no beer temperature for over an hour")
        return
    limit = settings.freezing_c if situation.course.cold else settings.near_freezing_c
    yield Finding(
        NEAR_FREEZING,
        subject,
        holds=now_c < limit + (0.3 if situation.stands(NEAR_FREEZING, subject) else 0.0),
        severity=Severity.CRITICAL,
        statement=f"beer {temperature(now_c)}, below {temperature(limit, None)}",
        remedy=of_frost(now_c, situation.aim_c, by_plan=situation.by_plan).text,
    )
