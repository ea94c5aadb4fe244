"""From an alarm that a person has seen to the request that says so."""

import secrets

from fermwatch.clock import Clock, to_ms
from fermwatch.contracts.inbox import Request, RequestKind
from fermwatch.ids import RANDOM_BYTES, new_ulid
from fermwatch.model.finding import Alarm


def acknowledgement(alarm: Alarm, site: str, user: str, clock: Clock) -> Request:
    """Never expires: what was seen stays seen, however late the watcher hears of it."""
    now = clock.now()
    return Request(
        id=new_ulid(to_ms(now), secrets.token_bytes(RANDOM_BYTES)),
        site=site,
        kind=RequestKind.ACKNOWLEDGE,
        payload={"rule": alarm.rule, "subject": alarm.subject},
        user=user,
        created_at=now,
    )
