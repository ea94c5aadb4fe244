"""Times as a person types them: "now", "21:30", "yesterday 21:30", or ISO 8601; in the site's zone unless said."""

import argparse
import re
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from fermwatch.errors import InputError

AHEAD = timedelta(hours=1)  # forgives a rounded time, as the watcher does
FIRST_YEAR, LAST_YEAR = 2000, 9000  # of what the store keeps, and of what a calendar can reckon with
EXAMPLES = 'Say "21:30", "yesterday 21:30" or "2026-03-01 21:30".'
_CLOCK = re.compile(r"(?:(today|yesterday)\s+)?(\d{1,2}):(\d{2})", re.IGNORECASE | re.ASCII)
HAPPENED = "Only what has happened is written down."
ENDS = 'Say "3d", "36h", "2026-03-12" or "2026-03-12 18:00".'
_SPAN = re.compile(r"(\d{1,3}(?:\.\d)?)\s*(d|h)", re.IGNORECASE | re.ASCII)
_NEXT = re.compile(r"(?:(today|tomorrow)\s+)?(\d{1,2}):(\d{2})", re.IGNORECASE | re.ASCII)
_WAIT = re.compile(r"(\d{1,5})\s*(s|min|h)?", re.IGNORECASE | re.ASCII)
_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)


def instant(text: str | None, now: datetime, zone: tzinfo, *, what: str = "--at") -> datetime:
    """The instant meant, in UTC; None and "now" are `now`. InputError where it is none, or still to come."""
    said = "now" if text is None else text.strip()
    if said.casefold() == "now":
        return now
    at = _of_the_clock(said, now, zone, what) or _iso(said, zone, what)
    if at > now + AHEAD:
        near = at - timedelta(days=1) <= now
        meant = f'Did you mean "yesterday {at.astimezone(zone):%H:%M}"?'
        hint = meant if near and at.astimezone(zone).date() == now.astimezone(zone).date() else HAPPENED
        raise InputError(f"{what}: {said[:40]} is still to come.", hint=hint)
    return at


def end(text: str, begun: datetime, zone: tzinfo, *, what: str) -> datetime:
    """When something that began at `begun` is over, in UTC: "3d", "36h", "2026-03-12" (the end of that day), "18:00"
    (the next), "tomorrow 18:00" or "2026-03-12 18:00". InputError where it is none.
    """
    said = text.strip()
    if _SPAN.fullmatch(said):
        return begun + span(said, what=what)
    try:
        if _DATE.fullmatch(said):
            day = date.fromisoformat(said) + timedelta(days=1)
            return _in_zone(datetime.combine(day, time()), zone, said, what)
        if match := _NEXT.fullmatch(said):
            local = datetime.combine(begun.astimezone(zone).date(), time(int(match[2]), int(match[3])))
            past = not match[1] and _in_zone(local, zone, said, what) <= begun
            ahead = timedelta(days=1 if past or (match[1] or "").casefold() == "tomorrow" else 0)
            return _in_zone(local + ahead, zone, said, what)
    except (ValueError, OverflowError):
        raise InputError(f"{what}: {said[:40]!r} is no time.", hint=ENDS) from None
    try:
        return _iso(said, zone, what)
    except InputError as error:
        raise InputError(str(error), hint=ENDS) from None


def span(text: str, *, what: str) -> timedelta:
    """How long: "3d" or "36h". InputError where it is no such."""
    found = _SPAN.fullmatch(text.strip())
    if found is None:
        raise InputError(f"{what}: {text.strip()[:40]!r} is no length of time.", hint='Say "14d" or "36h".')
    number = float(found[1])
    return timedelta(days=number) if found[2].casefold() == "d" else timedelta(hours=number)


def seconds(text: str) -> float:
    """How long to wait: "20s", "5min", "1h"; a bare number is seconds. For an option: ArgumentTypeError."""
    found = _WAIT.fullmatch(text.strip())
    if found is None or not int(found[1]):
        raise argparse.ArgumentTypeError(f'{text.strip()[:20]!r} is no time to wait: say "20s" or "5min"')
    return int(found[1]) * _SECONDS[(found[2] or "s").casefold()]


def _of_the_clock(said: str, now: datetime, zone: tzinfo, what: str) -> datetime | None:
    match = _CLOCK.fullmatch(said)
    if match is None:
        return None
    hour, minute = int(match[2]), int(match[3])
    if hour > 23 or minute > 59:
        raise InputError(f"{what}: {said[:40]} is no time of day.", hint=EXAMPLES)
    days = 1 if (match[1] or "").casefold() == "yesterday" else 0
    day = now.astimezone(zone).date() - timedelta(days=days)
    return _in_zone(datetime.combine(day, time(hour, minute)), zone, said, what)


def _iso(said: str, zone: tzinfo, what: str) -> datetime:
    try:
        lacks_time = bool(_DATE.fullmatch(said)) and date.fromisoformat(said) is not None
    except ValueError:
        lacks_time = False
    if lacks_time:
        raise InputError(f"{what}: {said} lacks its time.", hint=f'Say "{said} 18:30".')
    try:
        at: datetime | None = datetime.fromisoformat(said)
    except ValueError:
        at = None
    if at is None or not FIRST_YEAR <= at.year < LAST_YEAR:
        raise InputError(f"{what}: {said[:40]!r} is no time.", hint=EXAMPLES)
    return at.astimezone(UTC) if at.tzinfo is not None else _in_zone(at, zone, said, what)


def _in_zone(local: datetime, zone: tzinfo, said: str, what: str) -> datetime:
    """A wall time of the zone; one that the clocks skip or show twice is refused."""
    first, second = (local.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    try:
        at = first.astimezone(UTC)
    except OverflowError:
        raise InputError(f"{what}: {said[:40]!r} is no time.") from None
    if at.astimezone(zone).replace(tzinfo=None) != local:
        raise InputError(f"{what}: {said[:40]} was skipped when the clocks went forward.", hint="Add its UTC offset.")
    if first.utcoffset() != second.utcoffset():
        raise InputError(f"{what}: {said[:40]} came twice when the clocks went back.", hint="Add its UTC offset.")
    return at
