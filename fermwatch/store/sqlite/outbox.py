"""The outbox in SQLite; all but `outstanding` inside of the caller's transaction."""

import json
import sqlite3
from collections.abc import Sequence

from fermwatch.clock import from_ms, to_ms
from fermwatch.contracts.inbox import Outcome, Request
from fermwatch.contracts.outbox import MOST_KEPT, Change, ChangeKind, Notice

_PUT = """
INSERT INTO notice (site, at_ms, kind, subject, what)
SELECT :site, :at_ms, :kind, :subject, :what WHERE EXISTS (SELECT 1 FROM consumer WHERE site = :site)
"""
_BOUND = "DELETE FROM notice WHERE site = ? AND number <= (SELECT max(number) FROM notice) - ?"
_SUBSCRIBE = """
INSERT INTO consumer (site, consumer, taken)
VALUES (?, ?, coalesce((SELECT seq FROM sqlite_sequence WHERE name = 'notice'), 0)) ON CONFLICT DO NOTHING
"""
_UNSUBSCRIBE = "DELETE FROM consumer WHERE site = ? AND consumer = ?"
_TAKEN = "UPDATE consumer SET taken = max(taken, ?) WHERE site = ? AND consumer = ?"
_CLEAR = """
DELETE FROM notice WHERE site = :site
AND number <= coalesce((SELECT min(taken) FROM consumer WHERE site = :site), (SELECT max(number) FROM notice))
"""
_OUTSTANDING = """
SELECT number, at_ms, kind, subject, what FROM notice
WHERE site = :site AND number > (SELECT taken FROM consumer WHERE site = :site AND consumer = :consumer)
ORDER BY number LIMIT :limit
"""


def put(connection: sqlite3.Connection, site: str, changes: Sequence[Change]) -> None:
    for one in changes:
        row = {"site": site, "at_ms": to_ms(one.at), "kind": one.kind, "subject": one.subject}
        connection.execute(_PUT, row | {"what": json.dumps(dict(one.what))})
    if changes:
        connection.execute(_BOUND, (site, MOST_KEPT))


def came_of(request: Request, outcome: Outcome) -> Change:
    """What consumers are told of a request that was answered."""
    what = {"request": outcome.request_key, "kind": request.kind, "state": outcome.state, "reason": outcome.reason}
    return Change(outcome.at, ChangeKind.OUTCOME, f"request:{outcome.request_key}", what)


def subscribe(connection: sqlite3.Connection, site: str, consumer: str) -> None:
    connection.execute(_SUBSCRIBE, (site, consumer))


def unsubscribe(connection: sqlite3.Connection, site: str, consumer: str) -> None:
    connection.execute(_UNSUBSCRIBE, (site, consumer))
    connection.execute(_CLEAR, {"site": site})


def take(connection: sqlite3.Connection, site: str, consumer: str, number: int) -> None:
    connection.execute(_TAKEN, (number, site, consumer))
    connection.execute(_CLEAR, {"site": site})


def outstanding(connection: sqlite3.Connection, site: str, consumer: str, limit: int) -> tuple[Notice, ...]:
    found = connection.execute(_OUTSTANDING, {"site": site, "consumer": consumer, "limit": limit})
    return tuple(
        Notice(number, Change(from_ms(at_ms), ChangeKind(kind), subject, json.loads(what)))
        for number, at_ms, kind, subject, what in found
    )
