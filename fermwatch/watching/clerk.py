"""The clerk: carries out what people ask, each exactly once, each with an outcome."""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from fermwatch.contracts.inbox import Inbox, Outcome, OutcomeState, Request, RequestKind
from fermwatch.contracts.store import Writer
from fermwatch.errors import StoreFull

log = logging.getLogger("fermwatch")


@dataclass(frozen=True, slots=True)
class Attended:
    """What came of a slice of people's requests, and whether more of them wait."""

    outcomes: list[Outcome]
    more: bool


class Clerk:
    """Takes requests from the inbox to the store.

    before: called before each is carried out; after: called with each that was done, and the instant.
    """

    def __init__(
        self, store: Writer, inbox: Inbox, before: Callable[[], None], after: Callable[[Request, datetime], None]
    ) -> None:
        self._store, self._inbox, self._before, self._after = store, inbox, before, after

    def attend(self, now: datetime) -> list[Outcome]:
        """Carry out all that waits, oldest first."""
        attended = self.take_slice(now, _never)
        outcomes = attended.outcomes
        while attended.more:
            attended = self.take_slice(now, _never)
            outcomes += attended.outcomes
        return outcomes

    def take_slice(self, now: datetime, used_up: Callable[[], bool]) -> Attended:
        """Carry out what waits, oldest first, until the time of this slice is `used_up`: others wait for the store too.

        At least one thing is done in a slice.
        """
        outcomes = []
        for request in self._inbox.waiting():
            if request is not None:
                try:
                    outcomes.append(self._carry_out(request, now))
                except StoreFull:
                    if request.kind is not RequestKind.IMPORT:
                        raise  # readings wait for room, and what else is asked does not wait behind them
            if used_up():
                break
        return Attended(outcomes, self._inbox.unfinished)

    def _carry_out(self, request: Request, now: datetime) -> Outcome:
        self._before()
        outcome = self._store.apply(request, now)
        log.info("%s by %s: %s %s", request.kind, request.user, outcome.state, outcome.reason)
        if outcome.state is OutcomeState.DONE:
            self._after(request, now)
        # Last, so that a request whose consequences were not drawn is seen again: applied twice, it is done once.
        self._inbox.drop(request.key)
        return outcome


def _never() -> bool:
    return False
