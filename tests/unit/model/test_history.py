"""Which fermenter a series served at an instant, and who speaks for a fermenter."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from fermwatch.model.history import ALWAYS, NOWHERE, History, SpeakingSpan
from fermwatch.model.probe import Binding, Calibration

START = datetime(2026, 3, 1, tzinfo=UTC)
DAY = timedelta(days=1)
WARM = Calibration(offset=0.5)


def day(number: float) -> datetime:
    return START + number * DAY


def moved(series: int, *where: tuple[float, str]) -> list[Binding]:
    return [Binding(series, vessel, Calibration(), day(since)) for since, vessel in where]


def test_a_series_is_where_it_was_bound_there_and_back() -> None:
    history = History(moved(1, (0, "left"), (5, "right"), (9, "left")))
    said = [history.vessel(1, day(at)) for at in (0, 4.9, 5, 8.9, 9, 100)]
    assert said == ["left", "left", "right", "right", "left", "left"]
    assert history.vessel(1, day(-100)) == "left", "before anybody said so, as the first binding says"
    assert history.vessel(2, day(1)) == NOWHERE


def test_a_calibration_holds_from_its_day_on() -> None:
    history = History([*moved(1, (0, "left")), Binding(1, "left", WARM, day(2))])
    assert [history.calibrated(1, day(at), 19.0) for at in (1, 3)] == [19.0, 19.5]


def test_a_probe_that_came_later_leaves_the_days_before_to_the_one_that_was_there() -> None:
    history = History([*moved(1, (0, "left"), (5, NOWHERE)), *moved(2, (5, "left"))])
    heard = history.speakers([2, 1], "left", day(0), day(9))
    assert heard == (SpeakingSpan(1, day(0), day(5)), SpeakingSpan(2, day(5), day(9)))


def test_of_two_that_cannot_be_put_together_the_one_that_is_there_speaks() -> None:
    history = History([*moved(1, (0, "left"), (5, "right")), *moved(2, (0, "left"))])
    assert history.speaker([1, 2], "left", day(0), day(9)) == (SpeakingSpan(2, day(0), day(9)),)
    gone = History(moved(1, (0, "left"), (5, "right")))
    assert gone.speaker([1], "left", day(0), day(9)) == (SpeakingSpan(1, day(0), day(5)),)


PLACES = st.lists(st.tuples(st.integers(0, 30), st.sampled_from(["left", "right", NOWHERE])), min_size=1, max_size=5)


@given(first=PLACES, second=PLACES, at=st.integers(-5, 40))
def test_whoever_speaks_for_a_fermenter_was_in_it_and_nobody_speaks_twice(
    first: list[tuple[int, str]], second: list[tuple[int, str]], at: int
) -> None:
    history = History([*moved(1, *sorted(dict(first).items())), *moved(2, *sorted(dict(second).items()))])
    there = [series for series in (1, 2) if history.vessel(series, day(at)) == "left"]
    speaking = [one.series for one in history.speakers([1, 2], "left", *ALWAYS) if one.start <= day(at) < one.end]
    assert len(speaking) == min(len(there), 1)
    assert set(speaking) <= set(there)
