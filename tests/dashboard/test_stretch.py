"""Which stretch of a ferment is looked at: never beyond it, always with the cursor in it, still between readings."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.contracts.feed import Lane
from fermwatch.dashboard.pages.stretch import COLUMNS, SPANS, STEPS, Stretch, whole
from tests.dashboard.ferments import DAY, lane_with_a_story
from tests.dashboard.snapshots import NOW, healthy, hot, stalled

LANE = lane_with_a_story()
EMPTY = replace(healthy(), batch=None, judgement=None)
lanes = st.sampled_from([LANE, hot(), stalled(), EMPTY])
moves = st.lists(
    st.one_of(
        st.tuples(st.just("zoomed"), st.integers(-3, 3)),
        st.tuples(st.just("moved"), st.integers(-2 * STEPS, 2 * STEPS)),
    ),
    max_size=12,
)


def walked(lane: Lane, steps: list[tuple[str, int]]) -> Stretch:
    stretch = Stretch()
    for name, by in steps:
        stretch = getattr(stretch, name)(by, lane, NOW)
    return stretch


@given(lanes, moves)
def test_wherever_one_goes_the_cursor_is_in_the_window_and_the_window_in_the_ferment(
    lane: Lane, steps: list[tuple[str, int]]
) -> None:
    stretch, longest = walked(lane, steps), whole(lane, NOW)
    window = stretch.window(lane, NOW)
    assert window.columns == COLUMNS
    assert longest.start <= window.start
    assert window.end <= longest.end
    assert window.start <= (stretch.at or NOW) < window.end
    assert stretch.span is None or window.length == stretch.span


def test_the_whole_goes_from_the_pitch_to_the_end_of_the_forecast() -> None:
    assert LANE.batch is not None
    assert LANE.judgement is not None
    assert LANE.judgement.forecast is not None
    assert LANE.judgement.forecast.done_high is not None
    window = whole(LANE, NOW)
    assert timedelta(0) <= LANE.batch.pitched_at - window.start < timedelta(minutes=15)
    assert LANE.judgement.forecast.done_high < window.end < LANE.judgement.forecast.done_high + DAY


def test_a_forecast_that_is_far_away_takes_no_more_room_than_what_has_been() -> None:
    judgement = LANE.judgement
    assert judgement is not None
    assert judgement.forecast is not None
    far = replace(judgement.forecast, done_at=NOW + 60 * DAY, done_high=NOW + 90 * DAY)
    window = whole(replace(LANE, judgement=replace(judgement, forecast=far)), NOW)
    assert window.end - NOW < 5 * DAY


def test_closer_and_closer_is_six_hours_and_wider_is_the_whole_again() -> None:
    lengths = []
    stretch = Stretch()
    for _ in range(len(SPANS) + 1):
        stretch = stretch.zoomed(1, LANE, NOW)
        lengths.append(stretch.window(LANE, NOW).length)
    assert lengths == sorted(lengths, reverse=True)
    assert lengths[-1] == timedelta(hours=6)
    assert stretch.zoomed(0, LANE, NOW) == Stretch()
    assert stretch.zoomed(-len(SPANS), LANE, NOW) == Stretch()


def test_back_from_a_look_at_the_past_it_follows_the_clock_again() -> None:
    closer = Stretch().zoomed(3, LANE, NOW)
    away = closer.moved(-STEPS, LANE, NOW)
    assert away.at is not None
    assert away.window(LANE, NOW).end < NOW
    assert away.window(LANE, NOW + timedelta(minutes=5)) == away.window(LANE, NOW)
    back = away.moved(STEPS, LANE, NOW)
    assert back == closer
    assert closer.window(LANE, NOW + timedelta(hours=3)).start > closer.window(LANE, NOW).start


@pytest.mark.parametrize("span", [None, *SPANS[:4]])
def test_what_is_asked_for_stands_still_between_two_readings(span: timedelta | None) -> None:
    stretch = Stretch(span)
    windows = {stretch.window(LANE, NOW + timedelta(seconds=30 * number)) for number in range(20)}
    assert len(windows) <= 2
