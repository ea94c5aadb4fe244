"""Times as typed, in the site's zone, over the days on which clocks change too."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.commands.moments import instant
from fermwatch.errors import InputError

VIENNA = ZoneInfo("Europe/Vienna")
NOW = datetime(2026, 3, 29, 20, 0, tzinfo=UTC)  # 22:00 in Vienna, whose clocks went forward that morning


@pytest.mark.parametrize(
    ("typed", "at"),
    [
        (None, NOW),
        ("now", NOW),
        ("21:30", datetime(2026, 3, 29, 19, 30, tzinfo=UTC)),
        ("today 01:30", datetime(2026, 3, 29, 0, 30, tzinfo=UTC)),  # still winter time
        ("yesterday 21:30", datetime(2026, 3, 28, 20, 30, tzinfo=UTC)),
        ("2026-03-01 18:30", datetime(2026, 3, 1, 17, 30, tzinfo=UTC)),
        ("2026-03-01T18:30Z", datetime(2026, 3, 1, 18, 30, tzinfo=UTC)),
        ("2026-03-01T18:30+05:30", datetime(2026, 3, 1, 13, 0, tzinfo=UTC)),
    ],
)
def test_a_time_is_meant_in_the_sites_zone(typed: str | None, at: datetime) -> None:
    assert instant(typed, NOW, VIENNA) == at


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("2026-13-01", "'2026-13-01' is no time"),
        ("23:50", 'is still to come. Did you mean "yesterday 23:50"?'),
        ("2027-01-01 10:00", "is still to come"),
        ("2026-03-01", "lacks its time"),
        ("25:00", "is no time of day"),
        ("soon", "is no time"),
        ("", "is no time"),
        ("2026-03-29 02:30", "was skipped when the clocks went forward"),
        ("2025-10-26 02:30", "came twice when the clocks went back"),
    ],
)
def test_a_time_that_cannot_be_meant_is_refused(typed: str, told: str) -> None:
    with pytest.raises(InputError) as raised:
        instant(typed, NOW, VIENNA, what="--at")
    assert told in str(raised.value)
    assert raised.value.message.startswith("--at")


def test_a_rounded_time_just_ahead_is_forgiven() -> None:
    assert instant("22:30", NOW, VIENNA) == NOW + timedelta(minutes=30)


@given(st.text(max_size=30))
def test_whatever_is_typed_is_a_time_or_refused(typed: str) -> None:
    try:
        assert instant(typed, NOW, VIENNA).tzinfo is not None
    except InputError as error:
        assert error.message  # noqa: PT017 - both ends of the choice are asserted
