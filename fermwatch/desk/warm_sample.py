"""The warm-sample test before beer is cold or packaged: butter that it shows is cleared by warm yeast alone."""

from collections.abc import Iterable
from datetime import timedelta

from fermwatch.model.amounts import instant
from fermwatch.model.batch import Event, EventKind

AGAIN = timedelta(days=2)  # of warmth, before it is tested again (common practice)


def failed(events: Iterable[Event]) -> Event | None:
    """The last test, if it smelt of butter."""
    tests = [event for event in events if event.kind is EventKind.DIACETYL_TEST and not event.voided]
    last = max(tests, key=lambda event: event.at, default=None)
    return None if last is None or last.data.get("passed") else last


def again_words(test: Event) -> str:
    return f"Give it two more warm days, and test again: on {instant(test.at + AGAIN)}."


def in_package_words(test: Event) -> str:
    return (
        f"The warmed sample smelt of butter on {instant(test.at)}: beer that is cold, or off its yeast, hardly clears "
        f"that any more. {again_words(test)}"
    )
