"""Feeds without a store, for screens: they hand over fabricated snapshots."""

from collections.abc import Callable
from datetime import datetime

from fermwatch.clock import ManualClock
from fermwatch.contracts.feed import (
    Answer,
    BatchAnswer,
    BatchQuery,
    Curves,
    CurvesAnswer,
    CurvesQuery,
    FiguresAnswer,
    FiguresQuery,
    FillingAnswer,
    FillingQuery,
    HealthAnswer,
    HealthQuery,
    JournalAnswer,
    JournalQuery,
    OutcomesAnswer,
    OutcomesQuery,
    Query,
    Snapshot,
)
from fermwatch.contracts.figures import BatchFigures
from fermwatch.contracts.filling import Ground
from fermwatch.contracts.inbox import Outcome, OutcomeState, Request
from fermwatch.contracts.kept import StoreRoom
from fermwatch.dashboard.app import Dashboard, Remember, RememberLook
from fermwatch.dashboard.colours import Colours
from fermwatch.dashboard.writing import Ask, Prepare
from fermwatch.saying.voice import CANONICAL, Units
from tests.dashboard.snapshots import NOW, snapshot


class StillFeed:
    """The same snapshot for ever, until another is put in its place."""

    def __init__(self, shown: Snapshot) -> None:
        self.shown = shown
        self.closed = False
        self.queries: list[Query] = []
        self.outcome: tuple[OutcomeState, str] | None = (OutcomeState.DONE, "")  # of everything that is asked
        self.watched = True
        self.ground: Callable[[FillingQuery], Ground] | None = None
        self._told: Snapshot | None = None

    def changed(self) -> bool:
        told, self._told = self._told, self.shown
        return told is not self.shown

    def snapshot(self, _wall_now: datetime) -> Snapshot:
        return self.shown

    def answer(self, query: Query, _wall_now: datetime) -> Answer:
        self.queries.append(query)
        match query:
            case CurvesQuery(_, window):
                return CurvesAnswer(query, Curves(window))
            case BatchQuery():
                return self._batch(query)
            case FiguresQuery(batch_ids):
                return FiguresAnswer(query, self._figures(batch_ids))
            case JournalQuery():
                return JournalAnswer(query, ())
            case HealthQuery():
                return HealthAnswer(query, StoreRoom(48_000_000, 9_000_000_000))
            case OutcomesQuery(request_keys):
                told = tuple(Outcome(one, *self.outcome, NOW) for one in request_keys) if self.outcome else ()
                return OutcomesAnswer(query, told, watched=self.watched)
            case FillingQuery():
                return FillingAnswer(query, None if self.ground is None else self.ground(query), "nothing is filled")

    def _batch(self, query: BatchQuery) -> BatchAnswer:
        for lane in self.shown.lanes:
            if lane.batch is not None and lane.batch.id == query.batch_id:
                return BatchAnswer(query, lane.batch, lane.measurements, lane.events, lane.judgement)
        beer = next((one for one in self.shown.in_package if one.batch.id == query.batch_id), None)
        return BatchAnswer(query, None) if beer is None else BatchAnswer(query, beer.batch, (), beer.events)

    def _figures(self, batch_ids: tuple[str, ...]) -> tuple[BatchFigures, ...]:
        told = [(one.batch, one.judgement) for one in self.shown.lanes if one.batch is not None]
        told += [(one.batch, one.judgement) for one in self.shown.in_package]
        every = [
            BatchFigures(batch, judgement.trend.gravity_sg, judgement.trend.apparent_attenuation, 5.2, 21.4, 3)
            if judgement is not None and judgement.trend is not None
            else BatchFigures(batch)
            for batch, judgement in told
        ]
        named = {one.batch.id: one for one in every}
        return tuple(named[one] for one in batch_ids) if batch_ids else tuple(every)

    def close(self) -> None:
        self.closed = True


def dashboard(
    shown: Snapshot | None = None,
    *,
    ask: Ask | None = None,
    asked: list[Request] | None = None,
    typed: bool = False,
    units: Units = CANONICAL,
    remember: Remember | None = None,
    remember_look: RememberLook | None = None,
    look: Colours = Colours.DARK,
    feed: StillFeed | None = None,
    prepare: Prepare | None = None,
    bell: bool = True,
) -> Dashboard:
    """A dashboard over a still feed. `asked` gathers what is asked of the inbox."""
    feed = feed or StillFeed(shown or snapshot())
    take: Callable[[Request], None] | None = asked.append if asked is not None else ask
    return Dashboard(
        lambda: feed,
        take,
        "anna",
        ManualClock(NOW),
        site="home",
        ascii_only=typed,
        units=units,
        remember=remember,
        prepare=prepare,
        remember_look=remember_look,
        look=look,
        bell=bell,
    )
