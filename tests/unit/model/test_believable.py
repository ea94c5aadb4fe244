"""What is believed of a reading: its unit, its jump, and the warmest that held."""

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.model import event_data
from fermwatch.model.batch import EventKind, GravityMeasurement
from fermwatch.model.believable import (
    Level,
    ValueAt,
    believable,
    can_follow,
    screen,
    sustained_high,
    units_meant,
    weigh,
    why_doubted,
)
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.model.reading import Flag
from fermwatch.plain_data import Malformed, from_plain, to_plain

BEER, GRAVITY = Quantity.BEER_TEMPERATURE, Quantity.GRAVITY
MINUTE_MS = 60_000
LITRES = 20.0


def flags_of(quantity: Quantity, *said: tuple[float, float]) -> list[Flag]:
    """The flags of readings at these minutes, in order of arrival."""
    level: Level | None = None
    found = []
    for minute, value in said:
        flags, level = weigh(
            level, quantity, LITRES, ValueAt(round(minute * MINUTE_MS), value), screen(quantity, value)
        )
        found.append(flags)
    return found


def test_a_glitch_is_a_jump_and_what_comes_after_it_is_none() -> None:
    assert flags_of(BEER, (0, 20.0), (0.2, 38.0), (0.4, 20.1)) == [Flag.GOOD, Flag.JUMP, Flag.GOOD]


def test_a_new_level_is_believed_once_it_has_stood() -> None:
    said = [(0.0, 24.0), *((float(minute), 12.0) for minute in range(1, 14))]
    assert flags_of(BEER, *said) == [Flag.GOOD] + [Flag.JUMP] * 10 + [Flag.GOOD] * 3


def test_a_slow_probe_is_believed_at_its_third_word() -> None:
    said = [(0.0, 1.050), *((15.0 * step, 1.010) for step in range(1, 4))]
    assert flags_of(GRAVITY, *said) == [Flag.GOOD, Flag.JUMP, Flag.JUMP, Flag.GOOD]


def test_a_late_reading_is_held_against_its_neighbour_too() -> None:
    assert flags_of(BEER, (10, 20.0), (9.9, 35.0), (9.8, 20.0)) == [Flag.GOOD, Flag.JUMP, Flag.GOOD]


@pytest.mark.parametrize("celsius_per_hour", [10.0, -10.0])
def test_what_a_strong_heater_or_cooler_does_is_no_jump(celsius_per_hour: float) -> None:
    said = [(minute, 20.0 + celsius_per_hour * minute / 60) for minute in range(0, 90, 5)]
    assert set(flags_of(BEER, *said)) == {Flag.GOOD}


def test_the_less_beer_the_faster_it_may_change() -> None:
    before, after = ValueAt(0, 20.0), ValueAt(10 * MINUTE_MS, 26.0)
    assert can_follow(before, after, BEER, 5.0)
    assert not can_follow(before, after, BEER, 60.0)


def test_only_beer_is_slow() -> None:
    assert can_follow(ValueAt(0, 4.0), ValueAt(1000, 25.0), Quantity.AIR_TEMPERATURE, LITRES)
    assert can_follow(ValueAt(0, 0.0), ValueAt(1000, 1.0), Quantity.OUTPUT, LITRES)


@pytest.mark.parametrize("cold_c", [-2.0, 0.0, 1.0])
def test_a_cold_crash_is_doubted_in_no_unit(cold_c: float) -> None:
    assert units_meant(BEER, cold_c, Unit.CELSIUS) == ()
    assert units_meant(BEER, cold_c * 1.8 + 32.0, Unit.FAHRENHEIT) == ()


@given(st.floats(-2.5, 45.0), st.sampled_from([Unit.CELSIUS, Unit.FAHRENHEIT]))
def test_beer_said_in_the_configured_unit_is_never_doubted(celsius: float, unit: Unit) -> None:
    said = celsius if unit is Unit.CELSIUS else celsius * 1.8 + 32.0
    assert units_meant(BEER, said, unit) == ()


@given(st.dictionaries(st.integers(0, 7200), st.floats(0.0, 60.0), min_size=1, max_size=40), st.integers(1, 3000))
def test_the_warmest_that_held_is_what_the_definition_says(rows: dict[int, float], span_s: int) -> None:
    values = sorted((float(at), value) for at, value in rows.items())
    whole = []
    for since, (start_s, _) in enumerate(values):
        end = next(
            (index for index, (at_s, _) in enumerate(values) if at_s >= start_s + span_s and index > since), None
        )
        if end is not None:
            whole.append(min(value for _, value in values[since : end + 1]))
    expected = max(whole) if whole else min(value for _, value in values)
    assert sustained_high(values, float(span_s)) == expected


@given(st.floats(10.0, 25.0), st.floats(25.0, 60.0), st.integers(0, 99))
def test_one_glitch_is_never_the_warmest_that_held(steady: float, glitch: float, place: int) -> None:
    rows = [(60.0 * minute, glitch if minute == place else steady) for minute in range(100)]
    assert sustained_high(rows) == steady


def test_an_unsure_clock_spoils_no_value_and_everything_else_does() -> None:
    assert [flag for flag in Flag if believable(flag)] == [Flag.CLOCK_UNSURE]
    assert sustained_high([]) is None


def test_after_a_change_of_unit_nothing_is_said_that_no_device_said() -> None:
    told = why_doubted(Flag.UNIT_DOUBTED, GRAVITY, 12.5, 151.16, Unit.PLATO)
    assert "151" not in told
    assert "in the unit that was configured then" in told


@given(st.floats(0.9, 1.3))
def test_one_span_of_gravities_holds_for_a_probe_a_reading_by_hand_and_a_forced_ferment(gravity_sg: float) -> None:
    by_probe = screen(Quantity.GRAVITY, gravity_sg) is Flag.GOOD
    hand = to_plain(GravityMeasurement("m", datetime(2026, 3, 1, tzinfo=UTC), 1.010)) | {"gravity_sg": gravity_sg}
    assert by_probe == _is_read(lambda: from_plain(GravityMeasurement, hand))
    assert by_probe == _is_read(lambda: event_data.read(EventKind.FORCED_FERMENT, {"gravity_sg": gravity_sg}))


def _is_read(read: Callable[[], object]) -> bool:
    try:
        read()
    except Malformed:
        return False
    return True
