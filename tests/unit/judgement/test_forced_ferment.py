"""Two equal readings at the limit of a forced ferment settle it, and what only looks like that does not."""

from collections.abc import Sequence

import pytest

from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.finding import VerdictKind
from tests.unit.judgement.beer import at, brewed, event, fermenting, reading

FORCED = event(120.0, EventKind.FORCED_FERMENT, gravity_sg=1.0115)
Read = tuple[float, float]


def judged(read: Sequence[Read], events: Sequence[Event] = (FORCED,), *, days: float = 8.0) -> Judge:
    """By hand alone, at 20 °C: two readings are far from showing stillness by themselves."""
    judge = brewed(fermenting(), days, probe=False, events=events)
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
    judge = brewed(lambda hour: fermenting()(hour) + 0.03 * (172.0 - hour), 8.0, events=[FORCED])
    for hour in (160.0, 184.0):
        judge.add_measurement(reading(hour, 12.0))
    assert kind(judge) is not VerdictKind.SAFE
    even = brewed(fermenting(), 8.0, events=[FORCED], read_at=(160.0, 184.0))
    assert kind(even) is VerdictKind.SAFE
