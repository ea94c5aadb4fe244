"""Asking the watcher for something through the inbox, and waiting a moment for what came of it."""

import secrets
import time
from collections.abc import Mapping
from typing import Any

from fermwatch.clock import to_ms
from fermwatch.commands.context import Context
from fermwatch.contracts.inbox import Outcome, OutcomeState, Request, RequestKind
from fermwatch.contracts.store import Reader
from fermwatch.errors import RequestRefused
from fermwatch.ids import new_ulid
from fermwatch.inbox.sending import put
from fermwatch.saying import asking

WAIT_S = 4.0
LOOK_EVERY_S = 0.1


def new_id(context: Context) -> str:
    """A fresh ULID."""
    return new_ulid(to_ms(context.clock.now()), secrets.token_bytes(10))


def ask(context: Context, kind: RequestKind, payload: Mapping[str, Any]) -> Outcome | None:
    """Put a request into the inbox, durably, and wait a little for its outcome; None where it still waits.

    Raises RequestRefused where the watcher refused it, with its reason.
    """
    place = context.place
    request = Request(new_id(context), place.site, kind, payload, context.user, context.clock.now())
    put(place.store, request)
    outcome = _wait(context, request.key)
    if outcome is not None and outcome.state is not OutcomeState.DONE:
        raise RequestRefused(asking.refused(outcome))
    return outcome


def _wait(context: Context, request_key: str) -> Outcome | None:
    """The outcome, waited for as long as somebody is there who may give it."""
    end_s = context.clock.monotonic_s() + WAIT_S
    with context.open_store().reader() as reader:
        while True:
            outcome = reader.outcome(request_key)
            if outcome is not None or context.clock.monotonic_s() > end_s or not _is_watched(context, reader):
                return outcome
            time.sleep(LOOK_EVERY_S)


def _is_watched(context: Context, reader: Reader) -> bool:
    """Whether a watcher runs: it showed itself lately, or it holds the site's lease, however busy it is."""
    watcher = reader.watcher()
    held = context.open_store().is_held()
    return held or (watcher is not None and watcher.awake(context.clock.now(), held=held))


def report(context: Context, outcome: Outcome | None, done: str) -> int:
    """Say what came of it; the exit status."""
    if outcome is not None:
        context.say(done)
        return 0
    with context.open_store().reader() as reader:
        context.say(asking.kept(watched=_is_watched(context, reader)))
    return 0
