"""A device's own time and running number."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.errors import ProbeMisbehaving
from fermwatch_drivers.moments import read_sequence, read_time

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    "said",
    ["2026-03-01T12:00:00Z", "2026-03-01T13:00:00+01:00", 1772366400, 1772366400.0, 1772366400000, "1772366400"],
)
def test_the_same_instant_in_every_way_to_say_it(said: object) -> None:
    assert read_time(said) == NOON


@pytest.mark.parametrize(
    "said", ["2026-03-01T12:00:00", "noon", "", 123456, -1, 1e300, True, None, [], "0001-01-01T00:00+14:00"]
)
def test_what_is_no_instant_is_refused(said: object) -> None:
    with pytest.raises(ProbeMisbehaving):
        read_time(said)


@pytest.mark.parametrize(("said", "number"), [(0, 0), (17, 17), ("17", 17), (2**63 - 1, 2**63 - 1)])
def test_a_running_number_is_read(said: object, number: int) -> None:
    assert read_sequence(said) == number


@pytest.mark.parametrize("said", [-1, 1.5, "1.5", "", True, None, 2**63, "٣", "1_0"])
def test_what_is_no_running_number_is_refused(said: object) -> None:
    with pytest.raises(ProbeMisbehaving):
        read_sequence(said)


@given(st.one_of(st.text(max_size=40), st.integers(), st.floats(), st.none(), st.booleans()))
def test_any_time_is_an_instant_with_a_zone_or_refused(said: object) -> None:
    try:
        at = read_time(said)
    except ProbeMisbehaving:
        return
    assert at.tzinfo is UTC
