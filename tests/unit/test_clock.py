"""Instants and milliseconds."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.clock import EPOCH, ManualClock, SystemClock, from_ms, to_ms


@given(st.integers(-(2**41), 2**46))
def test_milliseconds_come_back_whole(milliseconds: int) -> None:
    assert to_ms(from_ms(milliseconds)) == milliseconds


def test_zones_are_one_instant_and_none_is_refused() -> None:
    noon = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
    assert to_ms(noon.astimezone(timezone(timedelta(hours=5, minutes=30)))) == to_ms(noon)
    with pytest.raises(ValueError, match="without a time zone"):
        to_ms(noon.replace(tzinfo=None))


def test_a_manual_clock_stands_still_until_it_is_moved() -> None:
    clock = ManualClock()
    assert clock.now() == EPOCH
    clock.advance(90)
    assert (clock.now(), clock.monotonic_s()) == (EPOCH + timedelta(seconds=90), 90)


def test_the_system_clock_says_utc_and_never_goes_back() -> None:
    clock = SystemClock()
    assert clock.now().tzinfo is UTC
    assert clock.monotonic_s() <= clock.monotonic_s()
