"""A device's own time and running number, as it writes them."""

import re
from datetime import UTC, datetime, timedelta

from fermwatch.clock import EPOCH
from fermwatch.errors import ProbeMisbehaving

# Seconds since 1970 have ten digits from 2001 to 2286, milliseconds thirteen: what is neither is no time of day,
# but usually the milliseconds since a board was switched on.
_SECONDS = (1_000_000_000, 10_000_000_000)
_MILLISECONDS = (_SECONDS[0] * 1000, _SECONDS[1] * 1000)
_DECIMAL = re.compile(r"[0-9]{1,19}(\.[0-9]{1,9})?")
_WHOLE = re.compile(r"[0-9]{1,19}")
_LARGEST_SEQUENCE = 2**63 - 1  # what the store can keep


def read_time(value: object) -> datetime:
    """An instant from ISO 8601 text with a zone, or from seconds or milliseconds since 1970, as number or text.

    Raises ProbeMisbehaving where it is none of these.
    """
    if isinstance(value, str):
        text = value.strip(" \t")
        if _DECIMAL.fullmatch(text):
            return _since_1970(float(text))
        return _iso(text)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return _since_1970(value)
    raise ProbeMisbehaving("a device time that is neither ISO 8601 nor seconds since 1970")


def read_sequence(value: object) -> int:
    """A running number: a whole one, not negative, as number or text. Raises ProbeMisbehaving."""
    if isinstance(value, str) and _WHOLE.fullmatch(value.strip(" \t")):
        value = int(value)
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= _LARGEST_SEQUENCE:
        return value
    raise ProbeMisbehaving("a running number that is not a whole number")


def _since_1970(value: float) -> datetime:
    if _SECONDS[0] <= value < _SECONDS[1]:
        return EPOCH + timedelta(seconds=value)
    if _MILLISECONDS[0] <= value < _MILLISECONDS[1]:
        return EPOCH + timedelta(milliseconds=value)
    raise ProbeMisbehaving("a device time before 2001 or after 2286")


def _iso(text: str) -> datetime:
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise ProbeMisbehaving("a device time that is neither ISO 8601 nor seconds since 1970") from None
    if at.tzinfo is None:
        raise ProbeMisbehaving("a device time without a time zone")
    try:
        return at.astimezone(UTC)
    except OverflowError:
        raise ProbeMisbehaving("a device time before 2001 or after 2286") from None
