"""To what a fermenter was set: its changes as sentences, and the plan as a line through time."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from fermwatch.contracts.feed import Lane
from fermwatch.contracts.store import Bucket
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.plan import PlanProgress, plan_of
from fermwatch.saying.set_to import change_words, changes, plan_line
from fermwatch.saying.voice import Voice
from tests.dashboard.snapshots import NOW, healthy

HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def held(*celsius: float, every: timedelta = HOUR) -> tuple[Bucket, ...]:
    return tuple(Bucket(NOW + number * every, 9, one, one, one) for number, one in enumerate(celsius))


def planned(lane: Lane, steps: str, *, number: int = 0, begun_at: datetime, from_c: float | None = None) -> Lane:
    progress = PlanProgress("", plan_of(steps), number, begun_at, from_c)
    return replace(lane, events=(*lane.events, Event("p1", begun_at, EventKind.PLAN, progress.data())))


def test_a_step_is_one_change_and_a_ramp_of_many_small_ones_is_one_too() -> None:
    step, ramp = changes(held(18, 18, 20, 20, 20, 20, 20, 20, 20, 20, 19.8, 19.6, 19.4, 19.2, 19.0, 19.0))
    assert change_words(step, Voice()) == "Set from 18.0 °C to 20.0 °C."
    assert change_words(ramp, Voice()) == "Set from 20.0 °C to 19.0 °C, over 4 h."
    assert step.began == NOW + 2 * HOUR


def test_what_only_rounds_is_no_change_and_a_way_back_is_another() -> None:
    assert changes(held(18, 18.1, 18.0, 18.2, 18.2)) == ()
    assert [one.to_c for one in changes(held(18, 20, 18))] == [20, 18]


def test_a_plan_is_a_line_from_when_it_was_said_along_its_ramps() -> None:
    lane = planned(healthy(), "16C for 2 days; 20C at 2C/day for 3 days", begun_at=NOW - DAY)
    line = plan_line(lane, [NOW - 2 * DAY, NOW, NOW + 2 * DAY, NOW + 3.5 * DAY, NOW + 9 * DAY], NOW)
    assert line == [None, 16.0, pytest.approx(18.0), 20.0, None]


def test_a_step_that_waits_for_a_word_stays_until_somebody_says_it() -> None:
    lane = planned(healthy(), "16C until told; 20C for 3 days", begun_at=NOW - DAY)
    now, later = plan_line(lane, [NOW - HOUR, NOW - DAY - HOUR], NOW)
    assert (now, later) == (16.0, None)


def test_no_plan_is_no_line() -> None:
    assert plan_line(healthy(), [NOW], NOW) == [None]
