"""A plan of temperatures that somebody begins, lets go on, holds or gives up; what speaks against it is told first."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from fermwatch.brewing.plan_library import usual_plan
from fermwatch.brewing.planning import begun_by, gone_on, is_cold, lacks, mistakes, next_step, state_of, why_cold
from fermwatch.contracts.store import Reader
from fermwatch.desk import declaring, heard
from fermwatch.errors import InputError
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.plan import HOW, BadPlan, Plan, PlanProgress, plan_of, progress_by, progress_of
from fermwatch.model.quantity import Quantity

BEGIN = "Begin one: fermwatch plan use {vessel}"


@dataclass(frozen=True, slots=True)
class Planning:
    """What is to be stored, and what speaks against it: one sentence or two each."""

    data: dict[str, float | str | bool]
    cautions: tuple[str, ...] = ()


def plan_for(batch: Batch, steps: str | None, name: str = "") -> Plan:
    """As written; else what suits the yeast. InputError for what this yeast cannot be asked."""
    try:
        plan = usual_plan(batch.yeast) if steps is None else plan_of(steps, name)
    except BadPlan as error:
        raise InputError(f"--steps: {error}.", hint=HOW) from None
    if wrong := next(mistakes(plan, batch.yeast), ""):
        raise InputError(wrong, hint=HOW)
    return plan


def begun(reader: Reader, batch: Batch, plan: Plan, number: int | None, now: datetime) -> PlanProgress:
    """The plan in its step `number`, from 1 on; from where the beer is, where that is known.

    None: in the first step that this beer does not have behind it already.
    """
    if number is not None and not 1 <= number <= len(plan.steps):
        raise InputError(f"--from: there is no step {number} of {len(plan.steps)}.", hint="Steps count from 1.")
    here_c = heard.newest(reader, batch.vessel, Quantity.BEER_TEMPERATURE, now)
    progress = PlanProgress("", plan, (number or 1) - 1, now, here_c)
    if number is not None:
        return progress
    seen = state_of(batch, reader.judgement(batch.id), reader.events(batch.id, strict=False))
    while next_step(progress) is not None and not lacks(progress, seen, batch.yeast, now):
        progress = replace(progress, number=progress.number + 1)
    return progress


def in_force(reader: Reader, batch: Batch, now: datetime) -> PlanProgress:
    """InputError where no plan is."""
    progress = progress_of(reader.events(batch.id, strict=False), now)
    if progress is None:
        raise InputError(f"{batch.name} has no plan.", hint=BEGIN.format(vessel=batch.vessel))
    return progress


def check_follows(batch: Batch) -> None:
    """InputError for a beer that no plan leads any more."""
    if not batch.in_fermenter:
        begin = f"One for the beer that is there now: fermwatch plan use {batch.vessel}"
        raise InputError(f"{batch.name} has left its fermenter: no plan leads it any more.", hint=begin)


def _led(reader: Reader, batch: Batch, now: datetime) -> PlanProgress:
    """The plan in force of a beer that is in its fermenter; InputError where no plan leads it."""
    check_follows(batch)
    return in_force(reader, batch, now)


def under_way(reader: Reader, batch: Batch, now: datetime) -> PlanProgress | None:
    """What another plan would take the place of; None where there is none, or it is over."""
    progress = progress_of(reader.events(batch.id, strict=False), now)
    return None if progress is None or progress.step is None else progress


def skipped(reader: Reader, batch: Batch, now: datetime) -> PlanProgress:
    """In its next step, whatever this one waited for."""
    progress = _led(reader, batch, now)
    if progress.step is None:
        raise InputError(f"The plan of {batch.name} is over.", hint=BEGIN.format(vessel=batch.vessel))
    return gone_on(progress, now)


def held(reader: Reader, batch: Batch, now: datetime, *, held: bool) -> PlanProgress:
    progress = _led(reader, batch, now)
    if progress.held is held:
        raise InputError(f"The plan of {batch.name} {'is held already' if held else 'is not held'}.")
    return replace(progress, held=held)


def edited(reader: Reader, batch: Batch, plan: Plan, now: datetime) -> PlanProgress:
    """Other steps, in the step that it is in; that goes on from when it began unless its own temperature changed."""
    progress = _led(reader, batch, now)
    if progress.number >= len(plan.steps):
        raise InputError(f"It is in step {progress.number + 1}, which these steps do not have.")
    was, is_now = progress.step, plan.steps[progress.number]
    if was is not None and (was.target_c, was.c_per_day) == (is_now.target_c, is_now.c_per_day):
        return replace(progress, plan=plan)
    return replace(progress, plan=plan, begun_at=now, from_c=progress.set_point_c(now))


def doubts(reader: Reader, batch: Batch, event: Event) -> Iterator[str]:
    """What speaks against the step that an event begins; cold beer that is not safe above all."""
    progress = progress_by(event)
    declared = None if progress is None else begun_by(event, progress, batch.yeast)
    if progress is None or declared is None:
        return
    against = tuple(declaring.doubts(reader, batch, declared))
    yield from against
    step = progress.step
    seen = state_of(batch, reader.judgement(batch.id), ())
    if step is not None and is_cold(step, batch.yeast) and not against and not seen.safe:
        yield "It is not known to be safe to bottle. Cold only stops the yeast; the sugar stays."


def cautions(reader: Reader, batch: Batch, event: Event, now: datetime) -> Iterator[str]:
    progress = progress_by(event)
    declared = None if progress is None else begun_by(event, progress, batch.yeast)
    if declared is not None:
        yield from declaring.cautions(reader, batch, declared, now)


def reasoned(reader: Reader, batch: Batch, progress: PlanProgress, although: str) -> PlanProgress:
    """With why its step may be cold, where it is: as somebody said, else as the beer and the plan so far say."""
    step = progress.step
    if step is None or not is_cold(step, batch.yeast) or progress.although:
        return progress
    seen = state_of(batch, reader.judgement(batch.id), ())
    before = progress_of(reader.events(batch.id, strict=False), progress.begun_at)
    return replace(progress, although=although[:200] or why_cold(before or progress, seen, batch.yeast))


def event_of(progress: PlanProgress, identity: str, at: datetime) -> Event:
    return Event(identity, at, EventKind.PLAN, progress.data())
