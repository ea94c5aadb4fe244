"""The planner: lets each plan of temperatures go on by itself, once what its step waits for is met."""

import hashlib
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime

from fermwatch.brewing.planning import due, state_of
from fermwatch.clock import to_ms
from fermwatch.contracts.inbox import OutcomeState, Request, RequestKind
from fermwatch.contracts.store import Writer
from fermwatch.errors import RequestRefused
from fermwatch.ids import RANDOM_BYTES, new_ulid
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.judgement import Judgement
from fermwatch.model.plan import PlanProgress, progress_of
from fermwatch.plain_data import to_plain
from fermwatch.requests.shapes import Happened

BY = "the plan"


class Planner:
    """after: called with each step that was begun, as with any other request."""

    def __init__(self, store: Writer, after: Callable[[Request, datetime], None]) -> None:
        self._store, self._after = store, after
        self._refused: dict[str, str] = {}  # by the event of the step that it cannot leave

    def go_on(self, batch: Batch, judgement: Judgement | None, events: Iterable[Event], now: datetime) -> bool:
        """Whether a step began. Asked for as people ask, so that it is done once, and told in the journal.

        Raises RequestRefused while it cannot begin, as where too much was noted of the batch.
        """
        said = tuple(events)
        progress = progress_of(said, now)
        following = None if progress is None else due(progress, state_of(batch, judgement, said), batch.yeast, now)
        if progress is None or following is None:
            return False
        if why := self._refused.get(progress.id):
            raise RequestRefused(why)
        site, _ = self._store.site()
        event = Event(_identity(progress, said), now, EventKind.PLAN, following.data())
        request = Request(event.id, site, RequestKind.EVENT, to_plain(Happened(batch.id, event)), BY, now)
        outcome = self._store.apply(request, now)
        if outcome.state is not OutcomeState.DONE:
            self._refused[progress.id] = f"Its plan cannot go on: {outcome.reason}"
            raise RequestRefused(self._refused[progress.id])
        self._after(request, now)
        return True


def _identity(progress: PlanProgress, said: Sequence[Event]) -> str:
    """The same for the same step of the same plan, so that no step is begun twice; another once somebody voided it."""
    voided = sum(one.voided for one in said if one.kind is EventKind.PLAN)
    known = hashlib.sha256(f"{progress.id} {progress.number} {voided}".encode()).digest()
    return new_ulid(to_ms(progress.begun_at), known[:RANDOM_BYTES])
