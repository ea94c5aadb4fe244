"""Asking the watcher for something through the inbox, and waiting for what came of it."""

import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from fermwatch.clock import Clock, to_ms
from fermwatch.contracts.feed import Feed, OutcomesAnswer, OutcomesQuery
from fermwatch.contracts.inbox import Outcome, OutcomeState, Request
from fermwatch.errors import RequestRefused
from fermwatch.ids import RANDOM_BYTES, new_ulid
from fermwatch.inbox.peeking import observe_identity
from fermwatch.inbox.sending import put
from fermwatch.model.degree import Degree
from fermwatch.plain_data import to_plain
from fermwatch.requests.shapes import KIND_OF, ArmingAsked, Asked
from fermwatch.saying import asking

WAIT_S = 4.0
LOOK_EVERY_S = 0.1


def new_id(now: datetime) -> str:
    """A fresh ULID."""
    return new_ulid(to_ms(now), secrets.token_bytes(RANDOM_BYTES))


def request(asked: Asked, *, site: str, user: str, now: datetime, identity: str = "") -> Request:
    """What is asked as it goes into the inbox. It never expires: what was said stays said, however late it is heard.

    identity: where it is known by its content; else a fresh one.
    """
    return Request(identity or new_id(now), site, KIND_OF[type(asked)], to_plain(asked), user, now)


def observing(controller: str, *, site: str, user: str, now: datetime) -> Request:
    """To write nothing to it any more: heard by its name alone while it waits."""
    identity = observe_identity(controller, new_id(now))
    return request(ArmingAsked(controller, Degree.OBSERVE), site=site, user=user, now=now, identity=identity)


@dataclass(frozen=True, slots=True)
class Reply:
    """What came of it: None where it still waits. watched: whether anybody runs who may carry it out."""

    outcome: Outcome | None
    watched: bool


@dataclass(frozen=True, slots=True)
class Asker:
    """Somebody at a site. store: the directory that holds it; feed: opened for the length of one wait."""

    site: str
    user: str
    store: Path
    clock: Clock
    feed: Callable[[], Feed]

    def ask(self, asked: Asked, identity: str = "") -> Reply:
        """Keep it durably in the inbox, and wait a little for its outcome.

        Raises RequestRefused where the watcher refused it, with its reason; StoreError where it cannot be kept.
        """
        sent = request(asked, site=self.site, user=self.user, now=self.clock.now(), identity=identity)
        put(self.store, sent)
        answered = self._wait(sent.key)
        if answered.outcome is not None and answered.outcome.state is not OutcomeState.DONE:
            raise RequestRefused(asking.refused(answered.outcome))
        return answered

    def _wait(self, request_key: str) -> Reply:
        """For as long as somebody is there who may give an outcome."""
        end_s = self.clock.monotonic_s() + WAIT_S
        feed = self.feed()
        try:
            while True:
                answer = feed.answer(OutcomesQuery((request_key,)), self.clock.now())
                if not isinstance(answer, OutcomesAnswer):
                    raise TypeError(f"no outcomes but {answer!r}")
                if answer.outcomes or not answer.watched or self.clock.monotonic_s() > end_s:
                    return Reply(next(iter(answer.outcomes), None), answer.watched)
                time.sleep(LOOK_EVERY_S)
        finally:
            feed.close()
