"""A plan of temperatures in words: where it is, what it waits for, and what comes when, by the forecast."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fermwatch.brewing.attenuation import expected
from fermwatch.brewing.planning import Lack, gone_on, lacks, next_step, state_of, state_words, step_words
from fermwatch.model.batch import Batch, Event
from fermwatch.model.finding import Phase, VerdictKind
from fermwatch.model.judgement import Judgement
from fermwatch.model.plan import PlanProgress, PlanStep, progress_by, progress_of
from fermwatch.saying import words
from fermwatch.saying.fan import Fan, fan_of
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice

STEADY_AFTER = timedelta(days=2)  # from when it is done until readings show it (common practice)
LACK_WORDS = {
    Lack.STEADY: "a steady gravity",
    Lack.TESTED: "a warm-sample test that passes",
    Lack.TOLD: "your word",
    Lack.SAFE: "the beer to be safe to bottle",
}


@dataclass(frozen=True, slots=True)
class PlanView:
    """A plan beside its batch, and what keeps it in its step."""

    progress: PlanProgress
    batch: Batch
    judgement: Judgement | None
    lacking: tuple[Lack, ...]


@dataclass(frozen=True, slots=True)
class Ahead:
    """When a step begins: most likely, by the forecast; None where nothing tells. waits: what it waits for besides."""

    number: int
    step: PlanStep
    at: datetime | None
    waits: tuple[Lack, ...]


def view_of(
    batch: Batch | None,
    judgement: Judgement | None,
    events: tuple[Event, ...],
    now: datetime,
    progress: PlanProgress | None = None,
) -> PlanView | None:
    """The plan in force, or `progress` in its place; None where there is none."""
    progress = progress or progress_of(events, now)
    if batch is None or progress is None:
        return None
    seen = state_of(batch, judgement, events)
    return PlanView(progress, batch, judgement, lacks(progress, seen, batch.yeast, now))


def plan_words(view: PlanView, now: datetime, voice: Voice) -> str:
    """plan ale: step 2 of 3, 20 °C until steady and tested; waits for a steady gravity; then 2 °C for 2 days."""
    progress = view.progress
    name = f"plan {voice.text(progress.plan.name, 40)}" if progress.plan.name else "plan"
    said = [f"{name}: {voice.text(state_words(progress))}"]
    if progress.step is not None and now < progress.there_at:
        said.append(f"by now at {voice.temperature(progress.set_point_c(now) or 0.0)}")
    if view.lacking and not progress.held:
        said.append(f"waits for {lacking_words(view, now, voice)}")
    following = next_step(progress)
    if following is not None:
        said.append(f"then {voice.text(step_words(following))}")
    return "; ".join(said)


def lacking_words(view: PlanView, now: datetime, voice: Voice) -> str:
    return listed([_lack(view, lack, now, voice) for lack in view.lacking])


def _lack(view: PlanView, lack: Lack, now: datetime, voice: Voice) -> str:
    step = view.progress.step
    if step is not None and lack is Lack.WAY and step.until.way is not None:
        return f"the beer, {_way_words(view)}"
    if step is not None and lack is Lack.DAYS and step.until.days is not None:
        over = view.progress.there_at + timedelta(days=step.until.days)
        return words.moment(over, now, voice).removeprefix("on ")
    return LACK_WORDS[lack]


def _way_words(view: PlanView) -> str:
    """now at 39 % of the way (attenuation 30 of 78 %)."""
    share = state_of(view.batch, view.judgement, ()).attenuated
    if share is None:
        return "nothing measured yet"
    here, middle = max(share, 0.0), expected(view.batch).middle
    return f"now at {here * 100:.0f} % of the way (attenuation {here * middle * 100:.0f} of {middle * 100:.0f} %)"


def listed(said: list[str]) -> str:
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}" if said else ""


def ahead(view: PlanView, now: datetime) -> Iterator[Ahead]:
    """The steps that are still to come, with when each most likely begins."""
    progress, at, fan = view.progress, now, fan_of(view.judgement)
    known = not progress.held
    lacking = view.lacking
    while (following := next_step(progress)) is not None:
        ends = [_met(lack, progress, view, fan, at) for lack in lacking]
        known = known and None not in ends
        at = max([at, *(end for end in ends if end is not None)])
        waits = tuple(lack for lack in lacking if lack in LACK_WORDS)
        yield Ahead(progress.number + 2, following, at if known else None, waits)
        progress = gone_on(progress, at)
        lacking = _all_of(progress, view)


@dataclass(frozen=True, slots=True)
class StepSaid:
    """One step of a plan: what it is, and when it was, is or will be. ink: STRONG for the one under way, of which
    `waits` says what it waits for.
    """

    number: int
    text: str
    when: str
    waits: str = ""
    ink: Ink = Ink.PLAIN


def steps_said(view: PlanView, now: datetime, voice: Voice) -> tuple[StepSaid, ...]:
    """All its steps; of those to come what the one before waits for besides."""
    progress, coming = view.progress, {one.number: one for one in ahead(view, now)}
    found = []
    for number, step in enumerate(progress.plan.steps, 1):
        text = voice.text(step_words(step))
        if number <= progress.number:
            found.append(StepSaid(number, text, "done", ink=Ink.FAINT))
        elif number == progress.number + 1:
            waits = lacking_words(view, now, voice) if view.lacking and not progress.held else ""
            found.append(StepSaid(number, text, "now, held" if progress.held else "now", waits, Ink.STRONG))
        else:
            found.append(StepSaid(number, text, _begins_words(coming[number], now, voice)))
    return tuple(found)


def _begins_words(one: Ahead, now: datetime, voice: Voice) -> str:
    """about 17 Mar 19:30, once it is safe: what ends the step before stands there."""
    once = "once it is safe" if Lack.SAFE in one.waits else "once you say so" if Lack.TOLD in one.waits else ""
    known = "not known yet" if one.at is None else when_words(one.at, now, voice)
    return ", ".join(part for part in (known, once) if part)


def when_words(at: datetime, now: datetime, voice: Voice) -> str:
    """Of what only a forecast tells."""
    return f"about {words.moment(at, now, voice).removeprefix('on ')}"


def over_at(view: PlanView, now: datetime) -> datetime | None:
    """When its last step is most likely over; None where nothing tells."""
    last = view.progress
    at: datetime | None = now
    for one in ahead(view, now):
        last, at = gone_on(last, one.at or now), one.at
    if at is None or last.step is None:
        return None
    lacking = view.lacking if last is view.progress else _all_of(last, view)
    ends = [_met(lack, last, view, fan_of(view.judgement), at) for lack in lacking]
    return None if None in ends else max([at, *(end for end in ends if end is not None)])


def _all_of(progress: PlanProgress, view: PlanView) -> tuple[Lack, ...]:
    """What a step waits for that has not begun, as far as it is not met already: it began when the one before ended."""
    judged = state_of(view.batch, view.judgement, ())
    return lacks(progress, replace(judged, tested=False), view.batch.yeast, progress.begun_at)


def _met(lack: Lack, progress: PlanProgress, view: PlanView, fan: Fan | None, from_at: datetime) -> datetime | None:
    step = progress.step
    if step is None:
        return None
    if lack is Lack.DAYS and step.until.days is not None:
        return progress.there_at + timedelta(days=step.until.days)
    if lack in {Lack.TOLD, Lack.TESTED}:
        return from_at
    if lack is Lack.WAY and step.until.way is not None:
        if fan is None:
            return None
        return fan.most.reaches(_gravity_at(view.batch, step.until.way), fan.start, fan.from_sg)
    done_at = view.judgement.forecast.done_at if view.judgement and view.judgement.forecast else None
    steady_at = from_at if done_at is None and _finished(view.judgement) else done_at and done_at + STEADY_AFTER
    return steady_at if lack is Lack.STEADY else _safe_at(view, steady_at)


def _safe_at(view: PlanView, steady_at: datetime | None) -> datetime | None:
    """No sooner than its verdict may say so."""
    verdict = view.judgement.verdict if view.judgement is not None else None
    if verdict is None or verdict.kind is VerdictKind.HOLD:
        return None
    known = [at for at in (steady_at, verdict.safe_from) if at is not None]
    return max(known, default=None)


def _finished(judgement: Judgement | None) -> bool:
    return judgement is not None and judgement.phase is not None and judgement.phase.phase is Phase.TERMINAL


def _gravity_at(batch: Batch, way: float) -> float:
    return batch.original_sg - (batch.original_sg - 1.0) * expected(batch).middle * way


def event_words(event: Event, voice: Voice) -> str:
    """What an event of a plan says: that a step began, is held, or the plan was given up."""
    progress = progress_by(event)
    if progress is None:
        return "plan given up"
    name = f" {voice.text(progress.plan.name, 40)}" if progress.plan.name else ""
    although = f", although {voice.text(progress.although, 100)}" if progress.although else ""
    return f"plan{name}: {voice.text(state_words(progress))}{although}"
