"""Rules about a plan of temperatures: what only a person can do for it. What it declares, other rules go by already."""

from collections.abc import Iterable
from datetime import timedelta

from fermwatch.brewing.planning import Lack, is_cold, lacks, state_of, state_words
from fermwatch.model.amounts import temperature
from fermwatch.model.batch import Batch
from fermwatch.model.finding import Finding, Severity
from fermwatch.model.plan import PlanProgress, progress_of
from fermwatch.model.rule_settings import RuleSettings
from fermwatch.model.subject import About
from fermwatch.rules.asking import SUCK_BACK
from fermwatch.rules.situation import Situation, median_of

SET_BY_HAND = "set-by-plan"
WAITS = "plan-waits"

NEAR_C, NEAR_ON_A_RAMP_C = 1.0, 0.5  # of the beer
SET_C = 0.3  # of a set point that is shown
ASKED_FOR = timedelta(hours=36)  # where nothing shows whether it was done
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def planned(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """What to set by hand where no controller follows the plan, and what it waits for that only a person can give."""
    del settings
    subject, batch = About.FERMENTER.of(situation.vessel), situation.batch
    progress = progress_of(situation.events, situation.now)
    if batch is None or progress is None or progress.step is None:
        for rule in (SET_BY_HAND, WAITS):
            yield Finding(rule, subject, holds=False, statement="no plan is under way")
        return
    yield _to_set(situation, batch, progress)
    yield _to_give(situation, batch, progress)


def _to_set(situation: Situation, batch: Batch, progress: PlanProgress) -> Finding:
    step, target_c = progress.step, progress.set_point_c(situation.now)
    if step is None or target_c is None:
        raise ValueError("a plan that is over has nothing to set")
    cold = is_cold(step, batch.yeast)
    by_and_by = situation.now < progress.there_at
    # Nobody turns a knob all day: along a ramp it is set to where a day leads.
    day_c = progress.set_point_c(situation.now + DAY) or target_c
    holds = not situation.by_plan and not _is_set(situation, progress, target_c, day_c)
    today = f"today to {temperature(day_c)}, on the way" if by_and_by else temperature(target_c, None)
    return Finding(
        SET_BY_HAND,
        About.FERMENTER.of(situation.vessel),
        holds=holds,
        severity=Severity.ADVICE,
        statement=f"by the plan: {today} ({state_words(progress)})" if holds else "set as the plan says",
        remedy=(
            f"Set the controller, or the fridge, to {temperature(day_c) if by_and_by else temperature(target_c, None)}."
            f"{f' {SUCK_BACK}' if cold else ''} To stay where it is: fermwatch plan hold {situation.vessel}"
        ),
    )


def _is_set(situation: Situation, progress: PlanProgress, target_c: float, day_c: float) -> bool:
    """As far as anything shows: the set point, else the beer; else nobody is asked for longer than a day and a half."""
    shown_c = median_of(situation.set_point, situation.now, HOUR)
    if shown_c is not None:
        return min(target_c, day_c) - SET_C <= shown_c <= max(target_c, day_c) + SET_C
    here_c = median_of(situation.beer, situation.now, HOUR)
    near_c = NEAR_C if day_c == target_c else NEAR_ON_A_RAMP_C
    if here_c is not None and abs(here_c - day_c) <= near_c:
        return True
    return situation.now >= progress.there_at + ASKED_FOR


def _to_give(situation: Situation, batch: Batch, progress: PlanProgress) -> Finding:
    seen = state_of(batch, situation.judgement, situation.events)
    lacking = set(lacks(progress, seen, batch.yeast, situation.now))
    holds = bool(lacking) and lacking <= {Lack.TESTED, Lack.TOLD} and not progress.held
    if Lack.TESTED in lacking:
        what, remedy = "a warm-sample test", f"Then: fermwatch note {situation.vessel} diacetyl-test --passed"
    else:
        what, remedy = "your word", f"When you are content: fermwatch plan skip {situation.vessel}"
    return Finding(
        WAITS,
        About.FERMENTER.of(situation.vessel),
        holds=holds,
        severity=Severity.ADVICE,
        statement=f"the plan waits for {what} alone ({state_words(progress)})"
        if holds
        else "the plan waits for nobody",
        remedy=remedy,
    )
