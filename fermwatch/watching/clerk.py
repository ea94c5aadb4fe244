"""The clerk: carries out what people ask, each exactly once, each with an outcome."""

import logging
from collections.abc import Callable
from datetime import datetime

from fermwatch.contracts.inbox import Inbox, Outcome, OutcomeState, Request
from fermwatch.contracts.store import Writer

log = logging.getLogger("fermwatch")


class Clerk:
    """Takes requests from the inbox to the store.

    before: called before each is carried out; after: called with each that was done, and the instant.
    """

    def __init__(
        self, store: Writer, inbox: Inbox, before: Callable[[], None], after: Callable[[Request, datetime], None]
    ) -> None:
        self._store, self._inbox, self._before, self._after = store, inbox, before, after

    def attend(self, now: datetime) -> list[Outcome]:
        """Carry out what waits, oldest first."""
        outcomes = []
        for request in self._inbox.waiting():
            self._before()
            outcome = self._store.apply(request, now)
            outcomes.append(outcome)
            log.info("%s by %s: %s %s", request.kind, request.user, outcome.state, outcome.reason)
            if outcome.state is OutcomeState.DONE:
                self._after(request, now)
            # Last, so that a request whose consequences were not drawn is seen again: applied twice, it is done once.
            self._inbox.drop(request.id)
        return outcomes
