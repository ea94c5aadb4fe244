"""Rules about a controller at work: whether it holds the beer, whether what it switches has an effect, and how it
switches. One cause is one alarm: what a graver one tells of already names it there.
"""

import itertools
from collections.abc import Iterable
from datetime import timedelta

from fermwatch.model.amounts import temperature, warmth
from fermwatch.model.finding import Finding, Severity
from fermwatch.model.intent import COLD_RULE, HEAT_RULE
from fermwatch.model.rule_settings import RuleSettings
from fermwatch.model.subject import About
from fermwatch.rules.effect import NO_EFFECT, SILENT_AFTER, OutputRun, on_share, runs_of, suspect
from fermwatch.rules.situation import GoodReading, Situation, median_of, since, slope_c_per_h

AWAY = "away-from-set-point"
CYCLING = "cycling"
FIGHTING = "heat-against-cool"

HOUR = timedelta(hours=1)
NEARING_C_PER_H, STILL_NEARING_C_PER_H = 0.1, 0.02  # for what is found, and for what was told as nearing
WORKS_ALL_THE_TIME, HARDLY_WORKS = 0.9, 0.1  # share of two hours
SHORTEST_REST = timedelta(minutes=3)  # a compressor needs five; what is heard once a minute says four of them
SHORT_RESTS = 3  # within two hours: one may be a person's
LOCKOUT = timedelta(minutes=30)  # between heat and cool (common practice)
TURNS = 3  # from heat to cool, or back, within the lockout
TOGETHER, TOGETHER_WITHIN = timedelta(minutes=5), timedelta(hours=3)
EASIER = 0.75  # of its limit, for what stands


def without_effect(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """An output is on, and neither air nor beer shows it."""
    del settings
    subject = About.FERMENTER.of(situation.vessel)
    if situation.batch is None:
        yield Finding(NO_EFFECT, subject, holds=False, statement="no beer is in it")
        return
    if not _heard(situation.cool, situation) and not _heard(situation.heat, situation):
        yield Finding(NO_EFFECT, subject, holds=None, statement="no output is heard")
        return
    found = suspect(situation, standing=situation.stands(NO_EFFECT, subject))
    if found is None:
        yield Finding(NO_EFFECT, subject, holds=False, statement="what is switched on has an effect again")
        return
    yield Finding(
        NO_EFFECT,
        subject,
        holds=True,
        statement=found.statement,
        remedy=f"{found.remedy}. {_needs_no_setting(situation)}",
        told_by=situation.teller(subject, HEAT_RULE, COLD_RULE),
    )


def _needs_no_setting(situation: Situation) -> str:
    """What the controller is about meanwhile: nobody need turn a knob for a door."""
    if situation.aim_c is None:
        return "Another set point would change nothing."
    if situation.driven:
        return (
            f"fermwatch goes on toward {temperature(situation.aim_c)} as soon as it has an effect: nothing need be set."
        )
    return f"Its set point of {temperature(situation.aim_c)} need not be changed for that."


def off_set_point(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """Where the controller wants the beer is one thing, and the beer another, and it does not come nearer either."""
    subject = About.FERMENTER.of(situation.vessel)
    if situation.batch is None or (situation.driven and situation.aim_c is None):
        why = "no beer is in it" if situation.batch is None else "no plan is under way"
        yield Finding(AWAY, subject, holds=False, statement=why)
        return
    beer, aim_c = median_of(situation.beer, situation.now, HOUR), situation.aim_c
    if beer is None or aim_c is None:
        missing = "beer temperature for over an hour" if beer is None else "set point"
        yield Finding(AWAY, subject, holds=None, statement=f"no {missing}")
        return
    apart = beer - aim_c
    limit = settings.away_from_set_point_c * (0.6 if situation.stands(AWAY, subject) else 1.0)
    slope = slope_c_per_h(since(situation.beer, situation.now, 3 * HOUR)) or 0.0
    told = situation.standing.get((AWAY, subject))
    was_nearing = told is not None and told.stands and told.severity is Severity.ADVICE
    nearing = slope * apart < 0 and abs(slope) > (STILL_NEARING_C_PER_H if was_nearing else NEARING_C_PER_H)
    aim = f"the plan's {temperature(aim_c)}" if situation.driven else f"its set point of {temperature(aim_c)}"
    yield Finding(
        AWAY,
        subject,
        holds=abs(apart) > limit and (situation.stands(AWAY, subject) or not nearing),
        severity=Severity.ADVICE if nearing else Severity.WARNING,
        statement=f"beer {temperature(beer)}, {warmth(apart, signed=True)} from {aim}",
        remedy=f"It comes nearer{_pace(abs(slope))}: leave it so." if nearing else _why_not_held(situation, apart),
        told_by=situation.teller(subject, HEAT_RULE, COLD_RULE, NO_EFFECT),
    )


def _pace(c_per_h: float) -> str:
    return f" by {warmth(c_per_h)} an hour" if c_per_h >= NEARING_C_PER_H / 2 else " slowly"


def _why_not_held(situation: Situation, apart_c: float) -> str:
    """By what the output that should bring it back did of late."""
    too_warm = apart_c > 0
    samples, does = (situation.cool, "cooling") if too_warm else (situation.heat, "heat")
    share = on_share(samples, situation.now, 2 * HOUR)
    if share is None:
        return "The controller is not managing: look at the door, the compressor, and where its probe sits."
    if share >= WORKS_ALL_THE_TIME:
        help_it = (
            "a cooler room, ice off the cold plate, or less in one fridge" if too_warm else "a warmer room, or a jacket"
        )
        return f"The {does} runs all the time and is beaten: another set point changes nothing. What helps: {help_it}."
    if share <= HARDLY_WORKS:
        driven = situation.driven and situation.controller is not None
        look = (
            f" Why: fermwatch controller show {situation.controller.name}"
            if driven and situation.controller
            else (" Look at where its probe sits, and at its deadband and delays.")
        )
        return f"The {does} is off, although the beer is {'warmer' if too_warm else 'colder'}.{look}"
    return (
        f"The {does} was on for {share:.0%} of two hours and thought that enough: look at where the controller's probe "
        "sits, and at the door."
    )


def cycling(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """A compressor that starts too often, or too soon after it stopped, wears out."""
    subject = About.FERMENTER.of(situation.vessel)
    recent = since(situation.cool, situation.now, 2 * HOUR)
    if not recent:
        yield Finding(CYCLING, subject, holds=None, statement="no output was heard for two hours")
        return
    runs = runs_of(recent, situation.now)
    starts = sum(1 for one in runs if one.began > recent[0].at) / 2
    short = sum(1 for a, b in itertools.pairwise(runs) if b.began - a.ended <= SHORTEST_REST)
    stands = situation.stands(CYCLING, subject)
    often = starts > settings.compressor_starts_per_h * (EASIER if stands else 1.0)
    said = f"{starts:.1f} compressor starts an hour over 2 h, more than {settings.compressor_starts_per_h:g}"
    if not often:
        said = f"{short} rests of the compressor in 2 h were 3 min or less: it needs 5"
    holds = often or short >= (1 if stands else SHORT_RESTS)
    yield Finding(
        CYCLING,
        subject,
        holds=holds,
        severity=Severity.ADVICE,
        statement=said if holds else f"{starts:.1f} compressor starts an hour over 2 h",
        remedy=_who_else(situation)
        or "Widen the deadband and lengthen the delay to 5 min, or put the controller's probe on the beer instead of "
        "in the air.",
        told_by=situation.teller(subject, FIGHTING),
    )


def fighting(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """Heat and cool against each other: together, or one right after the other, time and again."""
    del settings
    subject = About.FERMENTER.of(situation.vessel)
    if not _heard(situation.cool, situation) or not _heard(situation.heat, situation):
        yield Finding(FIGHTING, subject, holds=None, statement="heat and cool are not both heard")
        return
    lately = situation.now - TOGETHER_WITHIN
    cool, heat = (runs_of(one, situation.now) for one in (situation.cool, situation.heat))
    together = sum((_overlap(OutputRun(max(a.began, lately), a.ended), b) for a in cool for b in heat), timedelta())
    turns = _turns(cool, heat)
    holds = together >= TOGETHER or turns >= (1 if situation.stands(FIGHTING, subject) else TURNS)
    if together >= TOGETHER:
        said = f"heat and cool were on together for {together / timedelta(minutes=1):.0f} min of the last 3 h"
    else:
        said = f"heat and cool followed each other within half an hour {turns} times in 6 h"
    yield Finding(
        FIGHTING,
        subject,
        holds=holds,
        statement=said if holds else "heat and cool leave each other alone",
        remedy=_who_else(situation)
        or f"Between heating and cooling leave {warmth(0.6)} in which neither is on, and half an hour; look whether "
        "two thermostats regulate the same beer.",
    )


def _who_else(situation: Situation) -> str:
    """fermwatch itself starts no compressor so often, and never has both on."""
    if not situation.driven or situation.controller is None:
        return ""
    name = situation.controller.name
    return (
        "fermwatch does not switch it like that: something else does. Look for a second thermostat, and at the "
        f"settings of {name}; to let it be: fermwatch controller observe {name}"
    )


def _turns(cool: list[OutputRun], heat: list[OutputRun]) -> int:
    """How often one began within the lockout of the other's end."""
    return sum(1 for before, after in ((cool, heat), (heat, cool)) for b in after if any(_soon(a, b) for a in before))


def _soon(before: OutputRun, after: OutputRun) -> bool:
    return timedelta() <= after.began - before.ended < LOCKOUT


def _overlap(one: OutputRun, other: OutputRun) -> timedelta:
    return max(min(one.ended, other.ended) - max(one.began, other.began), timedelta())


def _heard(samples: tuple[GoodReading, ...], situation: Situation) -> bool:
    return bool(samples) and situation.now - samples[-1].at <= SILENT_AFTER
