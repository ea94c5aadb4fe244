"""The feed over a store's reader: every call one short read, and every answer a frozen value."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from fermwatch.contracts.feed import (
    Answer,
    BatchAnswer,
    BatchQuery,
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
    Unwatched,
)
from fermwatch.contracts.store import Reader, deciding_now
from fermwatch.feed.curves import CurveReader
from fermwatch.feed.figures import figures
from fermwatch.feed.picture import Picture
from fermwatch.model.history import History

Fill = Callable[[Reader, FillingQuery, datetime], FillingAnswer]


def nobody_fills(_reader: Reader, query: FillingQuery, _now: datetime) -> FillingAnswer:
    """For whoever never asks."""
    return FillingAnswer(query, None, "Nothing is filled here.")


class StoreFeed:
    """contracts.feed.Feed over a reader, which it closes. is_held: whether a watcher holds the site, however busy.

    unwatched: asked where nobody watches. fill: who knows how a package is filled.
    """

    def __init__(
        self, reader: Reader, is_held: Callable[[], bool], unwatched: Callable[[], Unwatched], fill: Fill
    ) -> None:
        self._reader, self._is_held, self._unwatched, self._fill = reader, is_held, unwatched, fill

    def changed(self) -> bool:
        return self._reader.changed()

    def snapshot(self, wall_now: datetime) -> Snapshot:
        with self._reader.at_one_instant():
            picture = Picture(self._reader, wall_now, held=self._is_held()).snapshot()
        return picture if picture.watched else replace(picture, **self._unwatched()._asdict())

    def answer(self, query: Query, wall_now: datetime) -> Answer:
        with self._reader.at_one_instant():
            match query:
                case CurvesQuery():
                    return self._curves(query)
                case BatchQuery():
                    return self._batch(query)
                case FiguresQuery(batch_ids):
                    now = deciding_now(self._reader.watcher(), wall_now)
                    return FiguresAnswer(query, figures(self._reader, batch_ids, now))
                case JournalQuery(limit, kind, subject):
                    return JournalAnswer(query, self._reader.journal(limit=limit, kind=kind, subject=subject))
                case HealthQuery():
                    return HealthAnswer(query, self._reader.room(), self._reader.notifiers())
                case OutcomesQuery():
                    return self._outcomes(query, wall_now)
                case FillingQuery():
                    return self._fill(self._reader, query, deciding_now(self._reader.watcher(), wall_now))

    def close(self) -> None:
        self._reader.close()

    def _curves(self, query: CurvesQuery) -> CurvesAnswer:
        curves = CurveReader(self._reader, History(self._reader.bindings()))
        return CurvesAnswer(query, curves.read_all(query.vessel, query.window, since=query.since))

    def _batch(self, query: BatchQuery) -> BatchAnswer:
        """What cannot be read of it is left out, as in the snapshot."""
        batch = self._reader.batch(query.batch_id)
        if batch is None:
            return BatchAnswer(query, None)
        return BatchAnswer(
            query,
            batch,
            self._reader.measurements(batch.id, strict=False),
            self._reader.events(batch.id, strict=False),
            self._reader.judgement(batch.id),
        )

    def _outcomes(self, query: OutcomesQuery, wall_now: datetime) -> OutcomesAnswer:
        found = (self._reader.outcome(one) for one in query.request_keys)
        watcher = self._reader.watcher()
        watched = (watcher is not None and watcher.awake(wall_now)) or self._is_held()
        return OutcomesAnswer(query, tuple(one for one in found if one is not None), watched)
