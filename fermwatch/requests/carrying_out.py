"""A request carried out: for each kind its shape and its handler.

Everything is checked before anything is written; what cannot be done is a RequestRefused in one sentence, and what a
handler wrote until then must be rolled back.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from fermwatch.contracts.inbox import Request, RequestKind
from fermwatch.errors import RequestRefused
from fermwatch.requests import attention, batches, controlling, history, sayings, shapes
from fermwatch.requests.ledger import Done, Ledger, Who
from fermwatch.text import clean

REQUEST_VERSION = 1


@dataclass(frozen=True, slots=True)
class Handling:
    """What is done with what `shapes.SHAPES` says is asked."""

    handle: Callable[[Ledger, Any, Who], Done]
    most_items: int = shapes.MOST_ITEMS


KINDS: Mapping[RequestKind, Handling] = {
    RequestKind.OPEN_BATCH: Handling(batches.open_batch),
    RequestKind.EDIT_BATCH: Handling(batches.edit_batch),
    RequestKind.END_BATCH: Handling(batches.end_batch),
    RequestKind.MEASURE: Handling(sayings.measure),
    RequestKind.EVENT: Handling(sayings.happen),
    RequestKind.VOID: Handling(sayings.void),
    RequestKind.ACKNOWLEDGE: Handling(attention.acknowledge),
    RequestKind.SHELVE: Handling(attention.shelve),
    RequestKind.UNSHELVE: Handling(attention.unshelve),
    RequestKind.IMPORT: Handling(history.take_in, history.MOST_READINGS),
    RequestKind.SERVICE: Handling(attention.serve),
    RequestKind.ARM: Handling(controlling.arm),
}


def user_of(request: Request) -> str:
    """Who asks, as one short line."""
    return clean(request.user, 40) or "somebody"


def carry_out(ledger: Ledger, request: Request, site: str, now: datetime) -> Done:
    """Do what the request asks. Raises RequestRefused."""
    if request.site != site:
        raise RequestRefused(f"This is the site {site}, not {clean(request.site)}.")
    if request.version != REQUEST_VERSION:
        raise RequestRefused(
            f"The request has version {request.version}; this watcher knows version {REQUEST_VERSION}: update it."
        )
    kind = KINDS[request.kind]
    asked: Any = shapes.read(shapes.SHAPES[request.kind], request.payload, kind.most_items)
    return kind.handle(ledger, asked, Who(user_of(request), now))
