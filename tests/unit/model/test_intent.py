"""The temperature that is meant: the last word counts, it ends as it was said, and "outside" is one thing."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.model.batch import Event, EventKind
from fermwatch.model.finding import Alarm, Condition, Phase
from fermwatch.model.intent import (
    COLD_RULE,
    Band,
    Side,
    band_of,
    course_of,
    meant_by,
    outside,
    warmed_at,
)
from fermwatch.model.yeast import Yeast

NOW = datetime(2026, 3, 10, 12, tzinfo=UTC)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
LAGER = Yeast("lager", "an invented lager yeast", 8.0, 14.0, 0.72, 0.8, bottom_fermenting=True)


def event(kind: EventKind, ago: timedelta = timedelta(), **data: float | str | bool) -> Event:
    return Event(f"{kind}-{ago}", NOW - ago, kind, data)


REST = event(EventKind.REST, 3 * DAY, target_c=17.0, until=(NOW + DAY).isoformat())


def test_nothing_declared_is_the_yeasts_range() -> None:
    band = band_of(LAGER, course_of((), NOW), NOW)
    assert (band.low_c, band.high_c, band.name) == (8.0, 14.0, "the yeast's range")


def test_a_rest_is_the_range_while_it_lasts() -> None:
    course = course_of((REST,), NOW)
    assert not course.crashed
    assert not course.cold
    band = band_of(LAGER, course, NOW)
    assert (band.low_c, band.high_c, band.name) == (16.0, 18.0, "the planned rest")
    over = course_of((REST,), NOW + 2 * DAY)
    assert over.meant is None
    assert over.over_at == NOW + DAY
    assert band_of(LAGER, over, NOW + 2 * DAY).high_c == 14.0


def test_on_the_way_to_a_rest_the_yeasts_range_is_no_cold() -> None:
    band = band_of(LAGER, course_of((replace(REST, at=NOW),), NOW + HOUR), NOW + HOUR)
    assert (band.low_c, band.high_c) == (8.0, 18.0)


def test_a_ramp_is_on_its_way_until_it_should_be_there() -> None:
    by = (NOW + DAY).isoformat()
    ramp = event(EventKind.RAMP, DAY, target_c=2.0, from_c=17.0, by=by)
    assert band_of(LAGER, course_of((ramp,), NOW), NOW) == Band(1.0, 14.0, "the way to the planned ramp")
    assert band_of(LAGER, course_of((REST, ramp), NOW), NOW) == Band(1.0, 18.0, "the way to the planned ramp")
    assert band_of(LAGER, course_of((ramp,), NOW + 2 * DAY), NOW + 2 * DAY) == Band(1.0, 3.0, "the planned ramp")


@given(st.floats(8, 30), st.floats(-2, 40), st.integers(0, 100))
def test_no_rest_makes_heat_quiet_beyond_the_hotter_of_both(target_c: float, from_c: float, hours: int) -> None:
    """Whatever the beer happened to be at: 28.5 °C fell silent under a rest at 25."""
    course = course_of((event(EventKind.REST, hours * HOUR, target_c=target_c, from_c=from_c),), NOW)
    band = band_of(LAGER, course, NOW)
    assert band.high_c <= max(target_c + 1.0, 14.0)
    assert band.low_c >= min(target_c - 1.0, 8.0)
    if hours >= 48:
        assert (band.low_c, band.high_c) == (target_c - 1.0, target_c + 1.0)


def test_a_crash_may_come_from_the_rest_before_it_and_not_for_long() -> None:
    crash = event(EventKind.CRASH, DAY, target_c=1.0)
    assert band_of(LAGER, course_of((REST, crash), NOW), NOW) == Band(0.0, 18.0, "the planned crash")
    later = NOW + 2 * DAY
    assert band_of(LAGER, course_of((REST, crash), later), later) == Band(0.0, 14.0, "the planned crash")


def test_a_crash_says_how_cold_it_may_get_and_asks_for_no_cold() -> None:
    band = band_of(LAGER, course_of((event(EventKind.CRASH, 9 * DAY, target_c=1.0),), NOW), NOW)
    assert (band.low_c, band.high_c) == (0.0, 14.0)


@pytest.mark.parametrize(
    ("after", "meant"),
    [
        (event(EventKind.CRASH, HOUR, target_c=2.0), EventKind.CRASH),
        (event(EventKind.BACK_TO_RANGE, HOUR), None),
        (event(EventKind.PACKAGED, HOUR), None),
        (replace(event(EventKind.BACK_TO_RANGE, HOUR), voided=True), EventKind.REST),
        (event(EventKind.BACK_TO_RANGE, 4 * DAY), EventKind.REST),
        (event(EventKind.REST, HOUR), EventKind.REST),  # without a target it declares nothing
    ],
)
def test_the_last_word_counts(after: Event, meant: EventKind | None) -> None:
    for told in ((REST, after), (after, REST)):
        found = course_of(told, NOW).meant
        assert (found.kind if found else None) is meant


def test_what_is_declared_for_later_or_withdrawn_holds_not() -> None:
    assert course_of((REST,), NOW - 4 * DAY).meant is None
    assert course_of((replace(REST, voided=True),), NOW).over is None


def test_a_crash_is_over_when_the_beer_is_warmed_again() -> None:
    crash = event(EventKind.CRASH, 5 * DAY, target_c=2.0)
    cold = Alarm(COLD_RULE, "vessel:left", Condition.RAISED, cleared_at=NOW - 9 * DAY)
    assert course_of((crash,), NOW, warmed_at((cold,), "left")).crashed
    warm = replace(cold, condition=Condition.NORMAL, cleared_at=NOW - DAY)
    assert course_of((crash,), NOW, warmed_at((warm,), "right")).crashed
    for one in (warm, replace(warm, condition=Condition.RAISED)):  # and stays over when it grows cold once more
        over = course_of((crash,), NOW, warmed_at((one,), "left"))
        assert (over.meant, over.over_at) == (None, NOW - DAY)
    before = replace(warm, cleared_at=NOW - 6 * DAY)
    assert course_of((crash,), NOW, warmed_at((before,), "left")).crashed


def test_a_crash_of_old_rows_has_no_target_and_still_is_one() -> None:
    meant = meant_by(event(EventKind.CRASH))
    assert meant is not None
    assert meant.target_c == 2.0


@given(
    st.sampled_from(tuple(EventKind)),
    st.dictionaries(
        st.sampled_from(("target_c", "from_c", "by", "until")),
        st.one_of(
            st.floats(), st.text(max_size=30), st.booleans(), st.just("2026-03-12"), st.just("0001-01-01T00:00+05:00")
        ),
    ),
)
def test_no_data_of_an_event_can_break_it(kind: EventKind, data: dict[str, float | str | bool]) -> None:
    course = course_of((Event("x", NOW, kind, data),), NOW)
    band = band_of(LAGER, course, NOW)
    assert band.low_c <= band.high_c


@given(st.floats(-5, 40), st.sampled_from([None, *Phase]))
def test_outside_is_what_is_shown(temperature_c: float, phase: Phase | None) -> None:
    band = Band(17.0, 21.0)
    side = outside(temperature_c, band, phase)
    assert side == outside(float(f"{temperature_c:.1f}"), band, phase)
    if side is Side.ABOVE:
        assert round(temperature_c, 1) > 21.0
    if 17.0 <= temperature_c <= 21.0:
        assert side is None
