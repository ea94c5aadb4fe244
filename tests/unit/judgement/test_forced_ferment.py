"""Two equal readings at the limit of a forced ferment settle it, and what only looks like that does not."""

from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import Event, EventKind, PackageChoice
from fermwatch.model.finding import Phase, VerdictKind
from tests.unit.judgement.beer import ALE, a_batch, at, brewed, event, fermenting, reading

FORCED = event(120.0, EventKind.FORCED_FERMENT, gravity_sg=1.0115, temperature_c=25.0)
GENTLE = a_batch(package=PackageChoice("returnable-glass", 2.1, 25.0))  # half a point may be left
Read = tuple[float, float]


def judged(read: Sequence[Read], events: Sequence[Event] = (FORCED,), *, days: float = 8.0) -> Judge:
    """By hand alone, at 20 °C: two readings are far from showing stillness by themselves."""
    judge = brewed(fermenting(), days, batch=GENTLE, probe=False, events=events)
    for hour, points in read:
        judge.add_measurement(reading(hour, points))
    return judge


def kind(judge: Judge, hour: float = 190.0) -> VerdictKind:
    verdict = judge.judge(at(hour)).verdict
    assert verdict is not None
    return verdict.kind


def test_two_equal_readings_a_day_apart_at_its_limit_are_enough() -> None:
    assert kind(judged([(160.0, 12.0), (184.0, 12.0)])) is VerdictKind.SAFE


@pytest.mark.parametrize(
    "read",
    [
        [(184.0, 12.0)],
        [(166.0, 12.0), (184.0, 12.0)],  # not a day apart
        [(160.0, 13.0), (184.0, 12.0)],  # not equal
        [(160.0, 13.5), (184.0, 13.5)],  # equal, and above the limit
        [(160.0, 8.0), (184.0, 8.0)],  # far below it: then the sample had not ended
        [(150.0, 12.0), (172.0, 14.0), (184.0, 12.0)],  # another reading between them disagrees
    ],
)
def test_less_is_not(read: list[Read]) -> None:
    assert kind(judged(read)) is not VerdictKind.SAFE


@pytest.mark.parametrize("after", [EventKind.DRY_HOP, EventKind.SUGAR, EventKind.FRUIT, EventKind.BLEND])
def test_what_was_added_after_the_sample_voids_it(after: EventKind) -> None:
    added = event(140.0, after, grams=50.0)
    assert kind(judged([(160.0, 12.0), (184.0, 12.0)], (FORCED, added))) is not VerdictKind.SAFE


def test_a_probe_that_falls_all_the_same_is_believed() -> None:
    """Most of a point a day, between two readings that rounding made equal."""
    judge = brewed(lambda hour: fermenting()(hour) + 0.03 * (172.0 - hour), 8.0, batch=GENTLE, events=[FORCED])
    for hour in (160.0, 184.0):
        judge.add_measurement(reading(hour, 12.0))
    assert kind(judge) is not VerdictKind.SAFE
    even = brewed(fermenting(), 8.0, batch=GENTLE, events=[FORCED], read_at=(160.0, 184.0))
    assert kind(even) is VerdictKind.SAFE


def a_result(points: float, hour: float = 120.0, **said: float | bool) -> Event:
    data = {"temperature_c": 25.0, **said}
    return event(hour, EventKind.FORCED_FERMENT, gravity_sg=1.0 + points / 1000.0, **data)


@pytest.mark.parametrize(
    "forced",
    [
        event(120.0, EventKind.FORCED_FERMENT, gravity_sg=1.0115),  # nobody said how warm
        a_result(11.5, temperature_c=4.0),
        a_result(11.5, temperature_c=12.0),
        a_result(11.5, temperature_c=35.0),
        a_result(11.5, hour=1.0),
        a_result(11.5, hour=40.0),
        a_result(60.0),
        a_result(-10.0),
    ],
)
def test_what_cannot_be_one_counts_for_nothing(forced: Event) -> None:
    assert kind(judged([(160.0, 12.0), (184.0, 12.0)], (forced,))) is not VerdictKind.SAFE


@settings(max_examples=25, deadline=None)
@given(
    st.floats(0.0, ALE.attenuation_low - 0.051),
    st.floats(23.0, 28.0),
    st.floats(50.0, 300.0),
    st.booleans(),
    st.booleans(),
)
def test_one_that_ended_far_short_of_its_yeast_never_makes_safe(
    reached: float, kept_c: float, hour: float, probe: bool, twice: bool
) -> None:
    end = 50.0 * (1.0 - reached)
    forced = [a_result(end, hour, temperature_c=kept_c)]
    forced += [a_result(end, hour + 24.0, temperature_c=kept_c)] if twice else []
    read_at = [0.3, *(168.0 + 24.0 * day for day in range(8))]
    judge = brewed(lambda h: max(fermenting()(h), end), 15.0, probe=probe, read_at=read_at, events=forced)
    for later in range(60, 360, 12):
        assert kind(judge, float(later)) is not VerdictKind.SAFE


FULL_BODIED = 15.5  # 69 % of 72 to 80


def full_bodied(*forced: Event) -> Judge:
    read_at = (0.3, 168.0, 216.0, 264.0, 312.0)
    return brewed(fermenting(end=FULL_BODIED), 14.0, read_at=read_at, events=forced)


def test_a_full_bodied_beer_that_looks_stalled_is_freed_by_two_readings_of_the_sample_that_agree() -> None:
    twice = (a_result(15.5, 200.0), a_result(15.5, 224.0))
    assert kind(full_bodied(), 335.0) is not VerdictKind.SAFE
    assert kind(full_bodied(twice[0]), 335.0) is not VerdictKind.SAFE
    assert kind(full_bodied(*twice), 335.0) is VerdictKind.SAFE
    other = (a_result(15.5, 200.0, same_yeast=False), a_result(15.5, 224.0, same_yeast=False))
    assert kind(full_bodied(*other), 335.0) is not VerdictKind.SAFE


def test_a_sample_that_ended_short_takes_the_place_of_no_waiting() -> None:
    """By hand alone, two readings a day apart."""
    twice = (a_result(15.5, 100.0), a_result(15.5, 124.0))
    judge = brewed(fermenting(end=15.5), 8.0, probe=False, events=twice, read_at=(160.0, 184.0))
    assert kind(judge) is not VerdictKind.SAFE


def test_a_stall_is_not_ended_by_a_sample_that_stopped_with_it() -> None:
    forced = (a_result(24.5, 168.0, temperature_c=10.0), a_result(24.5, 192.0))
    for events in ((), forced):
        judge = brewed(lambda hour: max(fermenting()(hour), 24.5), 10.0, events=events, read_at=(168.0, 216.0))
        phase = judge.judge(at(236.0)).phase
        assert phase is not None
        assert phase.phase is Phase.STALLED
