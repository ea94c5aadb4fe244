"""The hours and days under a chart: what the clock on the wall says, each where its instant stands.

Places are by time gone by: where the clock is changed, six hours of it are five or seven.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, time, timedelta

from fermwatch.clock import EPOCH
from fermwatch.drawing.glyphs import Glyphs
from fermwatch.model.window import QUARTER, Window
from fermwatch.saying.voice import Voice

MOST_LABELS = 4  # and one more where the first and the last stand at the edges
MINUTE, DAY = timedelta(minutes=1), timedelta(days=1)
_MINUTES = (1, 5, 15, 30, 60, 120, 180, 360, 720)
_DAYS = (1, 2, 7, 14, 28, 91, 364)  # whole weeks begin on Mondays
_DATED_FROM = 720  # minutes: where hours are so far apart, midnight is said as its date


def axis(window: Window, size: int, now: datetime, voice: Voice, glyphs: Glyphs, most: int = MOST_LABELS) -> str:
    """`size` cells, some `most` labels or fewer, each beginning at its place where it has room; `now` where the window
    ends with it."""
    row = [glyphs.outside] * size
    if window.end - window.span <= now < window.end:
        _write(row, "now", size - len("now"))
    for at, label in _marks(window, voice, most):
        _write(row, label, window.column(at, size))
    return "".join(row)


def _marks(window: Window, voice: Voice, most: int) -> Iterator[tuple[datetime, str]]:
    """Instants of the window and their labels, the newest first."""
    for minutes in _MINUTES:
        if window.length <= most * minutes * MINUTE:
            yield from _hours(window, minutes, voice)
            return
    yield from _days(window, next((one for one in _DAYS if window.length <= most * one * DAY), _DAYS[-1]), voice)


def _hours(window: Window, minutes: int, voice: Voice) -> Iterator[tuple[datetime, str]]:
    """Every so many minutes of the clock; an hour that the clock goes through twice stands there twice."""
    grain = min(minutes * MINUTE, QUARTER)
    at = window.end - (window.end - EPOCH) % grain
    while at >= window.start:
        local = voice.local(at)
        if (local.hour * 60 + local.minute) % minutes == 0:
            dated = minutes >= _DATED_FROM and local.hour == 0
            yield at, f"{local.day} {local:%b}" if dated else f"{local:%H:%M}"
        at -= grain


def _days(window: Window, days: int, voice: Voice) -> Iterator[tuple[datetime, str]]:
    """Midnights of the calendar, so many days apart."""
    day = voice.local(window.end).date()
    while day >= voice.local(window.start).date():
        midnight = datetime.combine(day, time(), voice.zone).astimezone(UTC)
        if day.toordinal() % days == 1 % days and window.start <= midnight < window.end:
            yield midnight, f"{day.day} {day:%b}"
        day -= DAY


def _write(row: list[str], label: str, at: int) -> None:
    """The label from its place on, where there is room for it and a blank around it."""
    if not 0 <= at <= len(row) - len(label):
        return
    around = row[max(at - 1, 0) : at + len(label) + 1]
    if len(set(around)) == 1:
        row[at : at + len(label)] = label
