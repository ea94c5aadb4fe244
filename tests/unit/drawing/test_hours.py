"""Under a chart of any window, at any zoom and on any night, a label stands where the clock on the wall says so."""

import re
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.drawing import hours
from fermwatch.drawing.glyphs import TYPED
from fermwatch.errors import InputError
from fermwatch.model.window import Window, last_day
from fermwatch.saying.voice import Voice

MINUTE = timedelta(minutes=1)
ZONES = ("Europe/Vienna", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "America/Santiago", "UTC")
CHANGES = (  # of clocks, forward and back, each within an hour or two
    datetime(2026, 3, 29, 1, tzinfo=UTC),
    datetime(2026, 10, 25, 1, tzinfo=UTC),
    datetime(2026, 3, 8, 7, tzinfo=UTC),
    datetime(2026, 11, 1, 6, tzinfo=UTC),
    datetime(2026, 4, 4, 15, tzinfo=UTC),
    datetime(2026, 10, 3, 15, 30, tzinfo=UTC),
    datetime(2026, 9, 6, 4, tzinfo=UTC),
)
windows = st.builds(
    lambda middle, off, length, columns: Window(
        middle + timedelta(minutes=off) - timedelta(minutes=length) / 2,
        middle + timedelta(minutes=off) + timedelta(minutes=length) / 2,
        columns,
    ),
    st.sampled_from(CHANGES),
    st.integers(-3000, 3000),
    st.one_of(st.integers(2, 3000), st.integers(3000, 600_000)),
    st.integers(1, 500),
)


def labels(axis: str) -> list[tuple[int, str]]:
    return [(found.start(), found.group()) for found in re.finditer(r"\d\d:\d\d|\d+ [A-Z][a-z][a-z]", axis)]


def stands_right(window: Window, cell: int, size: int, label: str, voice: Voice) -> bool:
    """Whether the instant that the label names falls into the cell, told without the code under test."""
    first = window.start + window.length * cell / size
    last = window.start + window.length * (cell + 1) / size
    if ":" not in label:
        before, day = voice.local(first - MINUTE).date(), voice.local(last + MINUTE).date()
        while day > before and f"{day.day} {day:%b}" != label:
            day -= timedelta(days=1)
        return day > before
    minute = first.replace(second=0, microsecond=0)
    clock = set()
    while minute <= last:
        clock.add(f"{voice.local(minute):%H:%M}")
        minute += MINUTE
    return label in clock


@given(windows, st.integers(12, 200), st.sampled_from(ZONES))
def test_a_label_stands_where_the_clock_says_so(window: Window, size: int, zone: str) -> None:
    voice = Voice(zone=ZoneInfo(zone))
    axis = hours.axis(window, size, window.start - timedelta(days=1), voice, TYPED)
    assert len(axis) == size
    for cell, label in labels(axis):
        assert stands_right(window, cell, size, label, voice), axis


@given(windows, st.integers(60, 200), st.sampled_from(ZONES))
def test_a_chart_of_some_width_has_some_labels_and_not_too_many(window: Window, size: int, zone: str) -> None:
    axis = hours.axis(window, size, window.start - timedelta(days=1), Voice(zone=ZoneInfo(zone)), TYPED)
    assert 1 <= len(labels(axis)) <= hours.MOST_LABELS + 2, axis


@pytest.mark.parametrize(
    ("length", "told"),
    [
        (timedelta(minutes=4), ["21:10", "21:11", "21:12", "21:13"]),
        (timedelta(hours=1), ["20:15", "20:30", "20:45", "21:00"]),
        (timedelta(hours=48), ["5 Mar", "12:00", "6 Mar", "12:00"]),
        (timedelta(days=4), ["3 Mar", "4 Mar", "5 Mar", "6 Mar"]),
        (timedelta(days=21), ["16 Feb", "23 Feb", "2 Mar"]),  # Mondays
    ],
)
def test_what_stands_there_by_the_length_of_the_window(length: timedelta, told: list[str]) -> None:
    end = datetime(2026, 3, 6, 21, 14, tzinfo=UTC)
    axis = hours.axis(Window(end - length, end, 96), 100, end + timedelta(days=1), Voice(), TYPED)
    assert [label for _, label in labels(axis)] == told


def test_an_hour_that_comes_twice_stands_there_twice() -> None:
    start = datetime(2026, 10, 25, 0, tzinfo=UTC)  # 02:00; at 01:00 UTC the clock goes back to 02:00
    axis = hours.axis(
        Window(start, start + timedelta(hours=4), 96), 80, start, Voice(zone=ZoneInfo("Europe/Vienna")), TYPED
    )
    assert labels(axis) == [(0, "02:00"), (20, "02:00"), (40, "03:00"), (60, "04:00")]


def test_now_stands_at_the_end_of_a_window_that_ends_with_it_alone() -> None:
    now = datetime(2026, 3, 6, 21, 14, tzinfo=UTC)
    day = last_day(now)
    earlier = Window(day.start, day.end - timedelta(hours=1), 96)
    assert hours.axis(day, 60, now, Voice(), TYPED).endswith("now")
    assert "now" not in hours.axis(earlier, 60, now, Voice(), TYPED)


@pytest.mark.parametrize(("minutes", "columns"), [(0, 10), (-5, 10), (5, 0)])
def test_a_window_without_time_or_columns_is_refused(minutes: int, columns: int) -> None:
    start = datetime(2026, 3, 6, tzinfo=UTC)
    with pytest.raises(InputError, match="no stretch of time"):
        Window(start, start + timedelta(minutes=minutes), columns)
