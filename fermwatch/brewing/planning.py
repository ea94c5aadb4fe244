"""How a plan of temperatures goes on: what its step waits for, and when the next begins. Pure.

Nothing is begun by a timer that ought to wait for the beer; and no plan makes beer cold that is not safe to bottle,
unless somebody said so by name.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

from fermwatch.brewing.attenuation import expected
from fermwatch.model.amounts import temperature, temperature_range, warmth
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.finding import VerdictKind
from fermwatch.model.intent import CRASH_HIGH_C, CRASH_LOW_C, FINISHED, warmest_rest_c
from fermwatch.model.judgement import Judgement
from fermwatch.model.plan import Plan, PlanProgress, PlanStep, until_text
from fermwatch.model.yeast import Yeast


@dataclass(frozen=True, slots=True)
class BeerState:
    """What a plan goes by. attenuated: as a share of what is expected; None where nothing tells.

    steady: gravity, by the trend's own verdict. tested: a warm-sample test passed after the last hops.
    """

    attenuated: float | None = None
    steady: bool = False
    tested: bool = False
    safe: bool = False


class Lack(StrEnum):
    """What a step still waits for."""

    WAY = "way"
    STEADY = "steady"
    TESTED = "tested"
    TOLD = "told"
    DAYS = "days"
    SAFE = "safe"  # the next step is cold


def lacks(progress: PlanProgress, seen: BeerState, yeast: Yeast, now: datetime) -> tuple[Lack, ...]:
    """What keeps the next step from beginning; of a last one, the plan from being over."""
    step = progress.step
    if step is None:
        return ()
    until = step.until
    found = {
        Lack.WAY: until.way is not None and (seen.attenuated is None or seen.attenuated < until.way),
        Lack.STEADY: until.steady and not seen.steady,
        Lack.TESTED: until.tested and not seen.tested,
        Lack.TOLD: until.told,
        Lack.DAYS: until.days is not None and now < progress.there_at + timedelta(days=until.days),
    }
    following = next_step(progress)
    found[Lack.SAFE] = following is not None and is_cold(following, yeast) and not why_cold(progress, seen, yeast)
    return tuple(lack for lack, holds in found.items() if holds)


def next_step(progress: PlanProgress) -> PlanStep | None:
    following = progress.number + 1
    return progress.plan.steps[following] if following < len(progress.plan.steps) else None


def is_cold(step: PlanStep, yeast: Yeast) -> bool:
    """Whether it stops the yeast."""
    return step.target_c < yeast.temperature_low_c


def why_cold(progress: PlanProgress, seen: BeerState, yeast: Yeast) -> str:
    """Why what follows may be cold without anybody's word; empty where it may not."""
    step = progress.step
    if seen.safe:
        return "it was safe to bottle"
    return "it was cold already" if step is not None and is_cold(step, yeast) else ""


def gone_on(progress: PlanProgress, now: datetime) -> PlanProgress:
    """In its next step, or over, whatever that waited for; from where the set point stood."""
    number = progress.number + 1
    return replace(progress, number=number, begun_at=now, from_c=progress.set_point_c(now), held=False, although="")


def due(progress: PlanProgress, seen: BeerState, yeast: Yeast, now: datetime) -> PlanProgress | None:
    """The plan in its next step where that begins now."""
    if progress.step is None or progress.held or lacks(progress, seen, yeast, now):
        return None
    following = gone_on(progress, now)
    cold = following.step is not None and is_cold(following.step, yeast)
    return replace(following, although=why_cold(progress, seen, yeast)) if cold else following


def declares(progress: PlanProgress, yeast: Yeast) -> tuple[EventKind, dict[str, float | str | bool]] | None:
    """What a step that begins means for the range: a rest, a ramp or a crash, or that such a one is over."""
    step = progress.step
    if step is None:
        return None
    data: dict[str, float | str | bool] = {"target_c": step.target_c}
    if progress.from_c is not None:
        data["from_c"] = round(progress.from_c, 2)
    ramp = progress.there_at > progress.begun_at
    if ramp:
        data["by"] = progress.there_at.isoformat()
    if is_cold(step, yeast):
        return EventKind.CRASH, data
    if step.target_c > yeast.temperature_high_c:
        return (EventKind.RAMP if ramp else EventKind.REST), data
    was = progress.plan.steps[progress.number - 1] if progress.number else None
    outside = was is not None and not yeast.temperature_low_c <= was.target_c <= yeast.temperature_high_c
    return (EventKind.BACK_TO_RANGE, {}) if outside else None


def begun_by(event: Event, progress: PlanProgress, yeast: Yeast) -> Event | None:
    """What is declared by the event with which a step begins; None where it begins none."""
    declared = declares(progress, yeast) if progress.begun_at == event.at else None
    return None if declared is None else Event(f"{event.id}-t", event.at, *declared, text="by the plan")


def state_words(progress: PlanProgress) -> str:
    """step 2 of 4, 20 °C until steady and tested; all its steps are done."""
    step = progress.step
    if step is None:
        return "all its steps are done"
    said = f"step {progress.number + 1} of {len(progress.plan.steps)}, {step_words(step)}"
    return f"{said}, held there" if progress.held else said


def step_words(step: PlanStep) -> str:
    pace = "" if step.c_per_day is None else f" by {warmth(step.c_per_day)} a day"
    until = until_text(step.until).replace("%", " % of the way").replace("until told", "until you say so")
    return f"{temperature(step.target_c, None)}{pace} {until}"


def mistakes(plan: Plan, yeast: Yeast) -> Iterator[str]:
    """What no plan of this yeast may ask for, a sentence each."""
    rest_c, cold = warmest_rest_c(yeast), False
    for number, step in enumerate(plan.steps, 1):
        target = f"Step {number}, {temperature(step.target_c, None)}"
        if is_cold(step, yeast):
            if not CRASH_LOW_C <= step.target_c <= CRASH_HIGH_C:
                yield (
                    f"{target}: this yeast ferments from {temperature(yeast.temperature_low_c, None)} on, and a crash "
                    f"goes to {temperature_range(CRASH_LOW_C, CRASH_HIGH_C)}."
                )
            cold = True
        elif step.target_c > rest_c:
            yield f"{target}: a rest of this yeast goes to {temperature(rest_c, None)} at the most."
        elif cold and step.until.way is not None:
            yield f"{target}: it waits for yeast to go on that was made cold."


def state_of(batch: Batch, judgement: Judgement | None, events: Iterable[Event]) -> BeerState:
    """What a plan goes by, of all that is known of a batch."""
    if judgement is None:
        return BeerState(tested=_tested(events))
    trend, phase, verdict = judgement.trend, judgement.phase, judgement.verdict
    middle = expected(batch).middle
    safe = verdict is not None and verdict.kind is VerdictKind.SAFE
    return BeerState(
        attenuated=None if trend is None else trend.apparent_attenuation / max(middle, 0.01),
        steady=safe or (phase is not None and phase.phase in FINISHED),
        tested=_tested(events),
        safe=safe,
    )


def _tested(events: Iterable[Event]) -> bool:
    """The last warm-sample test passed, and no hops came after it."""
    done = sorted((one for one in events if not one.voided), key=lambda one: one.at)
    last = next((one for one in reversed(done) if one.kind in {EventKind.DIACETYL_TEST, EventKind.DRY_HOP}), None)
    return last is not None and last.kind is EventKind.DIACETYL_TEST and bool(last.data.get("passed"))
