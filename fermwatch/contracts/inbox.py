"""The inbox: how people's words reach the watcher, durable while it is down, applied exactly once.

A request's `payload` is plain JSON data, whose keys are those of the model's dataclasses.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, Protocol


class RequestKind(StrEnum):
    OPEN_BATCH = "open-batch"  # payload: a Batch
    EDIT_BATCH = "edit-batch"  # payload: {"id": ..., "changes": {...}}
    END_BATCH = "end-batch"  # payload: {"id": ...}
    MEASURE = "measure"  # payload: {"batch": id, "measurement": a GravityMeasurement}
    EVENT = "event"  # payload: {"batch": id, "event": an Event}
    VOID = "void"  # payload: {"id": of the measurement or event, "reason": ...}
    ACKNOWLEDGE = "acknowledge"  # payload: {"rule": ..., "subject": ...}
    SHELVE = "shelve"  # payload: {"rule": ..., "subject": ..., "until": ISO-8601}
    UNSHELVE = "unshelve"
    IMPORT = "import"  # payload: {"vessel", "quantity", "at_ms": [...], "values": [...], "flags": [...], "last": bool}
    ARM = "arm"  # payload: {"controller": ..., "degree": "observe" or "set", "repeated": the caution}
    SERVICE = "service"  # payload: {"rule": ..., "subject": ..., "out": bool}: taken out of service, or put back


class OutcomeState(StrEnum):
    DONE = "done"
    REFUSED = "refused"
    EXPIRED = "expired"


@dataclass(frozen=True, slots=True)
class Request:
    """id: a ULID made by whoever asks. expires_at: None never expires.

    user: who asks. Whoever sends it is told by the owner of what is sent, and what is claimed here counts for nothing.
    """

    id: str
    site: str
    kind: RequestKind
    payload: Mapping[str, Any]
    user: str
    created_at: datetime
    expires_at: datetime | None = None
    version: int = 1

    @property
    def key(self) -> str:
        """What its outcome is known by. The id alone will not do: everybody who may ask sees it while it waits, and
        may write another request under it, which must not answer for this one.
        """
        import hashlib  # late: a screen that asks nothing has no need of them
        import json

        from fermwatch.plain_data import to_plain

        asked = to_plain((self.site, self.user, self.kind, self.payload, self.expires_at, self.version))
        return f"{self.id}-{hashlib.sha256(json.dumps(asked, sort_keys=True).encode()).hexdigest()[:32]}"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of the request of this key."""

    request_key: str
    state: OutcomeState
    reason: str
    at: datetime


class Inbox(Protocol):
    """The watcher's side of what people ask: durable, and never to be trusted."""

    def waiting(self) -> Iterator[Request | None]:
        """What waits, oldest first, a bounded number at a time; None for each thing that was no request and was set
        aside, so that whoever counts time may stop there. StoreError where the inbox is broken.
        """

    @property
    def unfinished(self) -> bool:
        """Whether more waits than was handed out."""

    def drop(self, request_key: str) -> None:
        """Forget the request of this key, whose outcome is in the store."""

    def close(self) -> None: ...
