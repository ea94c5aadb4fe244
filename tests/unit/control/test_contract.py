"""The values of a controller's contract."""

import math
from datetime import UTC, datetime, timedelta

import pytest

from fermwatch.contracts.controller import DeadMan, Order, Seen, SetPointAbility, Switch
from fermwatch.model.degree import Output
from fermwatch.model.quantity import Unit

AT = datetime(2026, 3, 1, 12, tzinfo=UTC)


def test_a_request_is_never_sent_late_nor_by_a_clock_that_was_set_back() -> None:
    request = Order("1", AT, AT + timedelta(seconds=30), Switch(frozenset({Output.COOL}), 120.0))
    assert not request.expired(AT)
    assert request.expired(AT + timedelta(seconds=30))
    assert request.expired(AT - timedelta(seconds=1))


def test_what_was_seen_is_readings_and_what_was_not_is_none() -> None:
    assert list(Seen(AT).readings(frozenset(Output))) == []
    seen = Seen(AT, measured_c=18.5, on=frozenset({Output.COOL}))
    said = [(one.channel, one.value, one.unit) for one in seen.readings(frozenset(Output))]
    assert said == [("measured", 18.5, Unit.CELSIUS), ("cool", 1.0, Unit.SWITCH), ("heat", 0.0, Unit.SWITCH)]
    bits = Seen(AT, alarms=frozenset({"door-open"})).readings(frozenset(), ("door-open", "probe-broken"))
    assert [(one.channel, one.value) for one in bits] == [("door-open", 1.0), ("probe-broken", 0.0)]


@pytest.mark.parametrize("after_s", [0.0, -1.0, math.nan, math.inf])
def test_a_dead_man_that_never_comes_is_none(after_s: float) -> None:
    with pytest.raises(ValueError, match="dead-man"):
        DeadMan(after_s, told=False)


@pytest.mark.parametrize(
    ("low_c", "high_c", "step_c", "writes"),
    [(20.0, 10.0, 0.1, None), (math.nan, 10.0, 0.1, None), (0.0, 10.0, 0.0, None), (0.0, 10.0, 0.1, 0)],
)
def test_a_set_point_without_sound_limits_is_none(
    low_c: float, high_c: float, step_c: float, writes: int | None
) -> None:
    with pytest.raises(ValueError, match="not"):
        SetPointAbility(low_c, high_c, step_c, writes)
