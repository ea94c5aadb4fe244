"""Since when a beer was outside of its range, by its curve, what was done and what that changed."""

from dataclasses import replace
from datetime import datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from fermwatch.contracts.feed import Curves, Lane
from fermwatch.contracts.store import Bucket
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.intent import Side, course_of
from fermwatch.model.window import last_day
from fermwatch.saying.spells import band_then, bands_at, spell_words, spells
from fermwatch.saying.voice import Voice
from tests.dashboard.snapshots import NOW, healthy, stalled

HOUR = timedelta(hours=1)


def beer(*celsius: float) -> tuple[Bucket, ...]:
    """A bucket an hour, the last one now."""
    first = NOW - (len(celsius) - 1) * HOUR
    return tuple(Bucket(first + number * HOUR, 4, one, one, one) for number, one in enumerate(celsius))


def found(lane: Lane, *celsius: float) -> list[tuple[Side, float, float | None]]:
    told = spells(lane, Curves(last_day(NOW), beer(*celsius)), NOW)
    return [(one.side, _ago(one.began), None if one.ended is None else _ago(one.ended)) for one in told]


def _ago(at: datetime) -> float:
    return (NOW - at) / HOUR


def test_a_spell_is_from_its_first_hour_outside_to_its_first_within() -> None:
    assert found(healthy(), 19, 19, 22, 23, 22, 20, 19) == [(Side.ABOVE, 4.0, 1.0)]


def test_one_that_is_not_over_has_no_end() -> None:
    assert found(healthy(), 19, 22, 23, 24) == [(Side.ABOVE, 2.0, None)]


def test_from_above_to_below_is_two() -> None:
    assert found(healthy(), 22, 22, 16, 16) == [(Side.ABOVE, 3.0, 1.0), (Side.BELOW, 1.0, None)]


def test_the_edge_itself_and_what_is_rounded_to_it_are_within() -> None:
    assert found(healthy(), 21.0, 21.04, 17.0, 16.96) == []


def test_what_was_declared_is_the_range_from_then_on() -> None:
    rest = Event("r", NOW - 5 * HOUR, EventKind.REST, {"target_c": 23.0})
    assert found(replace(healthy(), events=(rest,)), 22, 22, 22, 22, 23, 23, 23) == [(Side.ABOVE, 6.0, 5.0)]


def test_it_says_what_was_done_and_what_came_of_it() -> None:
    note = Event("n", NOW - 4 * HOUR, EventKind.NOTE, text="towel")
    gone = replace(note, id="v", text="by mistake", voided=True)
    lane, curve = replace(healthy(), events=(note, gone)), beer(19, 22, 24, 24, 23, 22, 20)
    (one,) = spells(lane, Curves(last_day(NOW), curve), NOW)
    said = spell_words(one, lane, curve, NOW, Voice())
    assert said == (
        "Above the yeast's range 17–21 °C from today 15:14 until today 20:14, for 5 h; warmest 24.0 °C today 16:14. "
        "Done meanwhile: note: towel, today 16:14: 4.0 °C cooler 4 h later."
    )


def test_where_nothing_was_noted_that_is_said() -> None:
    curve = beer(15, 15, 15)
    (one,) = spells(stalled(), Curves(last_day(NOW), curve), NOW)
    said = spell_words(one, stalled(), curve, NOW, Voice())
    assert said.startswith("Below the yeast's range")
    assert "and still so" in said
    assert said.endswith("Nothing is noted of what was done.")


def test_a_crash_that_has_warmed_up_is_over_from_then_on() -> None:
    crash = Event("c", NOW - 30 * HOUR, EventKind.CRASH, {"target_c": 2.0})
    course = course_of((crash,), NOW, NOW - 10 * HOUR)
    lane = replace(healthy(), events=(crash,), course=course)
    cold = [band is not None and band.low_c < 5.0 for band in bands_at(lane, [NOW - 11 * HOUR, NOW - 9 * HOUR], NOW)]
    assert cold == [True, False]


declared = st.builds(
    lambda hours, kind, target, lasts: Event(
        f"{hours}",
        NOW - hours * HOUR,
        kind,
        {"target_c": target} | ({} if lasts is None else {"until": (NOW - (hours - lasts) * HOUR).isoformat()}),
    ),
    st.integers(0, 90),
    st.sampled_from([EventKind.REST, EventKind.RAMP, EventKind.CRASH, EventKind.BACK_TO_RANGE]),
    st.floats(1.0, 25.0),
    st.none() | st.integers(1, 60),
)


@given(st.lists(declared, max_size=4))
def test_ranges_looked_up_together_are_those_looked_up_one_by_one(events: list[Event]) -> None:
    lane = replace(healthy(), events=tuple(events))
    times = [NOW - 98 * HOUR + number * HOUR * 0.75 for number in range(160)]
    assert list(bands_at(lane, times, NOW)) == [band_then(lane, at, NOW) for at in times]
