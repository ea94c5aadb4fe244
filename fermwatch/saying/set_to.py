"""To what a fermenter was set along its ferment, by its curve; and where its plan wants the beer, past and to come."""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from fermwatch.brewing.planning import gone_on
from fermwatch.contracts.feed import Lane
from fermwatch.contracts.store import Bucket
from fermwatch.model.batch import EventKind
from fermwatch.model.plan import PlanProgress, progress_by
from fermwatch.saying import words
from fermwatch.saying.planned import ahead, over_at, view_of
from fermwatch.saying.voice import Voice

LEAST_C = 0.3  # less is a controller's rounding
GOES_ON = timedelta(hours=6)  # steps with less between them are one ramp
AS_GOOD_AS_AT_ONCE = timedelta(hours=2)


@dataclass(frozen=True, slots=True)
class SetPointChange:
    """The set point went from one temperature to another, in one step or in many small ones."""

    began: datetime
    ended: datetime
    from_c: float
    to_c: float


def changes(set_point: Sequence[Bucket]) -> tuple[SetPointChange, ...]:
    """In time order."""
    found: list[SetPointChange] = []
    for before, after in pairwise(set_point):
        if abs(after.mean - before.mean) < 0.05:
            continue
        last = found[-1] if found else None
        same_way = last is not None and (last.to_c > last.from_c) == (after.mean > before.mean)
        if last is not None and same_way and before.at - last.ended <= GOES_ON:
            found[-1] = SetPointChange(last.began, after.at, last.from_c, after.mean)
        else:
            found.append(SetPointChange(after.at, after.at, before.mean, after.mean))
    return tuple(one for one in found if abs(one.to_c - one.from_c) >= LEAST_C)


def change_words(change: SetPointChange, voice: Voice) -> str:
    """Set from 18.0 °C to 20.0 °C, over 24 h."""
    lasted = change.ended - change.began
    over = f", over {words.age(lasted.total_seconds())}" if lasted > AS_GOOD_AS_AT_ONCE else ""
    return f"Set from {voice.temperature(change.from_c)} to {voice.temperature(change.to_c)}{over}."


class PlanLine:
    """Where plans wanted the beer, and want it: as was said, and as far as anything tells when a step ends."""

    def __init__(self, lane: Lane, now: datetime) -> None:
        found = [*_said(lane, now), *_to_come(lane, now)]
        self._begins = [at for at, _ in found]
        self._progress = [progress for _, progress in found]

    def at(self, at: datetime) -> float | None:
        """°C; None where no plan is under way, or nobody can say which of its steps."""
        place = bisect_right(self._begins, at)
        progress = self._progress[place - 1] if place else None
        return None if progress is None else progress.set_point_c(at)


def plan_line(lane: Lane, times: Iterable[datetime], now: datetime) -> list[float | None]:
    line = PlanLine(lane, now)
    return [line.at(at) for at in times]


def _said(lane: Lane, now: datetime) -> Iterator[tuple[datetime, PlanProgress | None]]:
    told = [one for one in lane.events if one.kind is EventKind.PLAN and not one.voided and one.at <= now]
    for event in sorted(told, key=lambda one: (one.at, one.id)):
        yield event.at, progress_by(event)


def _to_come(lane: Lane, now: datetime) -> Iterator[tuple[datetime, PlanProgress | None]]:
    view = view_of(lane.batch, lane.judgement, lane.events, now)
    if view is None or view.progress.step is None:
        return
    progress: PlanProgress = view.progress
    for one in ahead(view, now):
        if one.at is None:
            return  # it stays where it is until somebody knows more
        progress = gone_on(progress, one.at)
        yield one.at, progress
    if (over := over_at(view, now)) is not None:
        yield max(over, now), None
