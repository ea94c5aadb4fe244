"""A recorded log as what a person would ask for, one thing after another; and having it done, by a watcher or without.

Each thing asked is known by its content: asked again, as after an import that was cut short, it is done once.
"""

import hashlib
import itertools
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from fermwatch.clock import to_ms
from fermwatch.commands.context import Context
from fermwatch.contracts.inbox import Outcome, OutcomeState, Request, RequestKind
from fermwatch.contracts.store import Reader, Writer
from fermwatch.errors import RequestRefused, StoreError
from fermwatch.ids import new_ulid
from fermwatch.inbox.sending import put
from fermwatch.plain_data import to_text
from fermwatch.requests.shapes import KIND_OF, Asked

AHEAD = 8  # requests that may wait for the watcher at a time: it looks every half second
LOOK_EVERY_S = 0.05


@dataclass(frozen=True, slots=True)
class Errand:
    """One thing to ask for. seed: what it belongs to; at: the instant its identity bears."""

    asked: Asked
    seed: str
    at: datetime

    @property
    def kind(self) -> RequestKind:
        return KIND_OF[type(self.asked)]

    def identity(self, attempt: int) -> str:
        """The same for the same content; another attempt only after a refusal, whose reason may be mended by now."""
        return identity(f"{self.seed}|{self.kind}|{to_text(self.asked)}|{attempt}", self.at)


def identity(content: str, at: datetime) -> str:
    return new_ulid(to_ms(at), hashlib.sha256(content.encode()).digest()[:10])


class Way(Protocol):
    """How a request is carried out."""

    def ask(self, request: Request) -> None: ...
    def outcome(self, request: Request) -> Outcome:
        """What came of it; waited for. StoreError where nobody carries it out any more."""


class Directly:
    """Nobody watches: the store is written here, under the site's lease."""

    def __init__(self, writer: Writer, now: datetime) -> None:
        self._writer, self._now = writer, now

    def ask(self, request: Request) -> None:
        self._writer.apply(request, self._now)

    def outcome(self, request: Request) -> Outcome:
        return self._writer.apply(request, self._now)


class ThroughTheWatcher:
    """A watcher runs, and it alone writes: it is asked through its inbox, a few things at a time."""

    def __init__(self, reader: Reader, context: Context) -> None:
        self._reader, self._context = reader, context

    def ask(self, request: Request) -> None:
        put(self._context.place.store, request)

    def outcome(self, request: Request) -> Outcome:
        while (found := self._reader.outcome(request.key)) is None:
            watcher = self._reader.watcher()
            if watcher is None or not watcher.awake(self._context.clock.now()):
                raise StoreError(
                    "The watcher stopped: a part of the log is taken in.",
                    hint="Start it again, then run the same import again: it goes on where it was.",
                )
            time.sleep(LOOK_EVERY_S)
        return found


def run(errands: Sequence[Errand], reader: Reader, way: Way, make: Callable[[Errand, str], Request]) -> int:
    """Have them done in their order; how many were done before this run. RequestRefused where one is refused."""
    before = 0
    waiting: deque[Request] = deque()
    for errand in errands:
        request = _not_done(errand, reader, make)
        if request is None:
            before += 1
            continue
        way.ask(request)
        waiting.append(request)
        if len(waiting) >= AHEAD or errand.kind is not RequestKind.IMPORT:
            _settle(waiting, way, keep=AHEAD - 1 if errand.kind is RequestKind.IMPORT else 0)
    _settle(waiting, way, keep=0)
    return before


def _not_done(errand: Errand, reader: Reader, make: Callable[[Errand, str], Request]) -> Request | None:
    """The request for it; None where it was done already."""
    for attempt in itertools.count():
        request = make(errand, errand.identity(attempt))
        known = reader.outcome(request.key)
        if known is None:
            return request
        if known.state is OutcomeState.DONE:
            return None
    return None


def _settle(waiting: deque[Request], way: Way, *, keep: int) -> None:
    while len(waiting) > keep:
        outcome = way.outcome(waiting.popleft())
        if outcome.state is not OutcomeState.DONE:
            raise RequestRefused(outcome.reason)


def parts(count: int, size: int) -> Iterator[slice]:
    """Slices of `size` over `count` things."""
    return (slice(start, start + size) for start in range(0, count, size))
