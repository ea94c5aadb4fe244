"""What nobody declared, and what looks as if it were meant: it is asked about once, and kept quiet for a day."""

from collections.abc import Iterable
from datetime import timedelta

from fermwatch.model.amounts import temperature, typed_temperature, warmth
from fermwatch.model.batch import EventKind
from fermwatch.model.finding import Finding, Phase, Severity
from fermwatch.model.intent import FINISHED
from fermwatch.model.rule_settings import RuleSettings
from fermwatch.model.subject import About
from fermwatch.rules.situation import Situation, median_of, since, slope_c_per_h

LOOKS_LIKE_REST = "looks-like-rest"
LOOKS_LIKE_CRASH = "looks-like-crash"

# Common practice: a lager is raised by 3 to 6 °C after 60 % of attenuation, to 22 °C at the most, and held.
RESTS_FROM = 0.6
RAISED_C = 6.0
WARMEST_REST_C = 22.0
RUNAWAY_C_PER_H = 0.5
CRASH_FALL_C = 4.0
PATIENCE = timedelta(hours=24)
NO_HOLDS_FOR = timedelta(days=3)
HOUR = timedelta(hours=1)

SUCK_BACK = "Cooling beer draws air in through the airlock: a balloon or CO2 on it, and no liquid in it."


def looks_meant(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """Is this a diacetyl rest, is this a cold crash? As advice, with the words that answer it."""
    subject, here_c = About.FERMENTER.of(situation.vessel), median_of(situation.beer, situation.now, HOUR)
    if here_c is None or situation.batch is None:
        for rule in (LOOKS_LIKE_REST, LOOKS_LIKE_CRASH):
            yield Finding(rule, subject, holds=None if situation.batch else False, statement="no beer temperature")
        return
    yeast, note = situation.batch.yeast, f"fermwatch note {situation.vessel}"
    rest, crash = looks_like_rest(situation, settings), _looks_like_crash(situation, here_c)
    beer = f"beer {temperature(here_c)}"
    above = warmth(here_c - yeast.temperature_high_c)
    yield Finding(
        LOOKS_LIKE_REST,
        subject,
        holds=rest,
        severity=Severity.ADVICE,
        statement=f"{beer}, {above} above the yeast's range late on: is this a diacetyl rest?"
        if rest
        else f"{beer}: nothing to ask about a rest any more",
        remedy=f"Say so: {note} rest --target {typed_temperature(here_c)} --until 3d. "
        f"Or that it is none: {note} back-to-range.",
        told_by="" if not_yet_answered(situation) else "temperature-high",
    )
    yield Finding(
        LOOKS_LIKE_CRASH,
        subject,
        holds=crash,
        severity=Severity.ADVICE,
        statement=f"{beer} after finishing: is this a cold crash?"
        if crash
        else f"{beer}: nothing to ask about a crash any more",
        remedy=f"Say so: {note} crash --target {typed_temperature(max(here_c, 1.0))}. {SUCK_BACK}",
    )


def not_yet_answered(situation: Situation) -> bool:
    """Whether the question of a rest was asked less than a day ago, or is about to be."""
    asked = situation.standing.get((LOOKS_LIKE_REST, About.FERMENTER.of(situation.vessel)))
    if asked is None or not asked.stands or asked.raised_at is None:
        return True
    return situation.now - asked.raised_at < PATIENCE


def looks_like_rest(situation: Situation, settings: RuleSettings) -> bool:
    """A lager beyond its range, late on, neither racing nor anything that was answered or declared already."""
    here_c, way = median_of(situation.beer, situation.now, HOUR), situation.attenuated
    if situation.batch is None or here_c is None or way is None or way < RESTS_FROM or _answered(situation):
        return False
    yeast = situation.batch.yeast
    beyond_c = here_c - yeast.temperature_high_c
    slope = slope_c_per_h(since(situation.beer, situation.now, 3 * HOUR))
    return (
        yeast.bottom_fermenting
        and settings.outside_clears_c < beyond_c <= RAISED_C
        and here_c <= WARMEST_REST_C
        and (slope is None or slope < RUNAWAY_C_PER_H)
    )


def _looks_like_crash(situation: Situation, here_c: float) -> bool:
    """Finished, and some 4 °C below where it fermented."""
    finished = situation.phase in FINISHED and situation.phase is not Phase.PACKAGED
    if situation.batch is None or not finished or _answered(situation):
        return False
    low_c, high_c = situation.batch.yeast.temperature_low_c, situation.batch.yeast.temperature_high_c
    return here_c < min(low_c, (low_c + high_c) / 2 - CRASH_FALL_C)


def _answered(situation: Situation) -> bool:
    """Something is in force, or it was said lately that nothing is."""
    if situation.course.meant is not None:
        return True
    lately = situation.now - NO_HOLDS_FOR
    return any(
        event.kind is EventKind.BACK_TO_RANGE and not event.voided and lately < event.at <= situation.now
        for event in situation.events
    )
