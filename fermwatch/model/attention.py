"""What people do to an alarm: acknowledge it, shelve it until an end, take it out of service. Pure."""

from dataclasses import replace
from datetime import datetime, timedelta

from fermwatch.errors import RequestRefused
from fermwatch.model.amounts import instant
from fermwatch.model.finding import Alarm

MAX_SHELVED = timedelta(hours=24)


def acknowledge(alarm: Alarm, user: str, now: datetime) -> Alarm:
    """Seen, for this occurrence: a new one asks again. RequestRefused where there is nothing to acknowledge."""
    if alarm.occurrence == 0:
        raise RequestRefused(f"{alarm.rule} has not been raised of {alarm.subject}: there is nothing to acknowledge.")
    if alarm.acknowledged_at is not None:
        by = alarm.acknowledged_by or "somebody"
        raise RequestRefused(f"{alarm.rule} for {alarm.subject} was already acknowledged by {by}.")
    return replace(alarm, acknowledged_at=now, acknowledged_by=user)


def shelve(alarm: Alarm, until: datetime, user: str, now: datetime) -> Alarm:
    """Quiet until an end, at most 24 h away: what is to be quiet for longer is taken out of service, and shows it."""
    if until <= now:
        raise RequestRefused(f"The end of a shelving must lie ahead: {instant(until)} has passed.")
    if until - now > MAX_SHELVED:
        raise RequestRefused("An alarm can be shelved for 24 hours at most.", hint="Take it out of service instead.")
    return replace(alarm, shelved_until=until, shelved_by=user)


def unshelve(alarm: Alarm) -> Alarm:
    if alarm.shelved_until is None:
        raise RequestRefused(f"{alarm.rule} for {alarm.subject} is not shelved.")
    return replace(alarm, shelved_until=None, shelved_by="")


def set_service(alarm: Alarm, user: str, now: datetime, *, out: bool) -> Alarm:
    """Out of service, with since when and by whom; or back."""
    since, by = (now, user) if out else (None, "")
    return replace(alarm, out_of_service=out, out_of_service_since=since, out_of_service_by=by)
