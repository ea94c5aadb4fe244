"""Nothing is written but within all limits, by who was armed, as seldom as it can be: against a device that does as it
likes.
"""

import random
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from fermwatch.contracts.controller import Abilities, Seen, SetPointAbility
from fermwatch.control.degree import OBSERVING, Arming
from fermwatch.control.guard import Guarded, SetPointWish, guard_set_point
from fermwatch.control.setting import TRIES, Setting, writes_a_day
from fermwatch.model.amounts import plain
from fermwatch.model.batch import EventKind
from fermwatch.model.degree import Degree
from fermwatch.model.intent import Band
from fermwatch.model.yeast import Yeast

AT = datetime(2026, 3, 1, 12, tzinfo=UTC)
YEAST = Yeast("ale", "of a test", 17.0, 21.0, 0.72, 0.78)
ALLOWED = Band(1.0, 24.0)
ABILITY = SetPointAbility(-10.0, 40.0, 0.1, 100_000)
ARMED = Arming(Degree.SET, "anna", AT)


def guard(
    target_c: float | None,
    shown_c: float | None,
    *,
    setting: Setting | None = None,
    arming: Arming = ARMED,
    meant: EventKind | None = None,
    cold_permitted: bool = False,
    ability: SetPointAbility | None = ABILITY,
    now_s: float = 0.0,
) -> Guarded:
    wanted = None if target_c is None else SetPointWish(target_c, YEAST, meant, cold_permitted)
    seen = Seen(AT, set_point_c=shown_c)
    return guard_set_point(wanted, setting or Setting(), seen, arming, Abilities(ability), ALLOWED, now_s)


def test_what_differs_is_written_and_what_agrees_is_not() -> None:
    assert guard(18.0, 20.0).write_c == 18.0
    assert guard(18.0, 18.0).write_c is None


@pytest.mark.parametrize("shown_c", [50.0, 66.0, 72.0])
def test_a_device_that_counts_in_fahrenheit_is_not_written_to_in_celsius(shown_c: float) -> None:
    """18 would be -8 °C there, and the beer ice."""
    found = guard(18.0, shown_c)
    assert found.write_c is None
    assert "does it count in °F?" in found.why


def test_nothing_is_written_while_observing_nor_without_a_wish_nor_where_it_cannot_be() -> None:
    assert guard(18.0, 20.0, arming=OBSERVING).write_c is None
    assert guard(None, 20.0).write_c is None
    assert guard(18.0, 20.0, ability=None).write_c is None


@pytest.mark.parametrize(
    ("target_c", "meant", "cold_permitted", "why"),
    [
        (22.0, None, False, "22.0 °C is outside the limits of the fermentation: 17–21 °C."),
        (23.0, EventKind.REST, False, "23.0 °C is outside the limits of the rest: 17–22 °C."),
        (30.0, EventKind.REST, True, "30.0 °C is outside the limits that you set: 1–24 °C."),
        (2.0, EventKind.CRASH, False, "2.0 °C is cold, and the beer was not safe to bottle when that began."),
        (0.5, EventKind.CRASH, True, "0.5 °C is outside the limits that you set: 1–24 °C."),
        (float("nan"), None, False, "outside the limits that you set"),
    ],
)
def test_what_is_outside_any_limit_is_refused_and_never_moved_to_the_edge(
    target_c: float, meant: EventKind | None, cold_permitted: bool, why: str
) -> None:
    found = guard(target_c, 19.0, meant=meant, cold_permitted=cold_permitted)
    assert found.write_c is None
    assert why in plain(found.why)


def test_a_crash_that_may_be_is_written() -> None:
    assert guard(2.0, 19.0, meant=EventKind.CRASH, cold_permitted=True).write_c == 2.0


def test_nothing_is_written_blindly() -> None:
    found = guard(18.0, None)
    assert found.write_c is None
    assert "nothing is written blindly" in found.why


def test_a_device_that_clamps_is_written_three_times_and_then_told_of() -> None:
    found, writes = guard(18.0, 19.0), 0
    for second in range(100):
        writes += found.write_c is not None
        found = guard(18.0, 19.0, setting=found.setting, now_s=float(second))
    assert writes == TRIES
    assert found.given_up
    assert "shows 19.0 °C after 18.0 °C was written 3 times" in plain(found.why)


def test_a_day_of_one_set_point_is_one_write() -> None:
    """CTL-6 of the reliability page: nothing is written after the first."""
    shown_c, setting, writes = 20.0, Setting(), 0
    for now_s in range(0, 86_400, 10):
        found = guard(18.0, shown_c, setting=setting, now_s=float(now_s))
        setting = found.setting
        if found.write_c is not None:
            writes, shown_c = writes + 1, found.write_c
    assert writes == 1


def test_a_million_steps_of_wishes_arming_and_a_device_that_lies_break_no_limit() -> None:
    """By the device's own record: each write within every limit, none while observing, never over the day's budget."""
    chance = random.Random(10)
    weak = replace(ABILITY, writes=40_000)
    budget = writes_a_day(weak)
    assert budget is not None
    shown_c: float | None = 19.0
    setting, now_s, writes = Setting(), 0.0, 0
    written_s: list[float] = []
    arming, target_c, meant, permitted = OBSERVING, 18.0, None, False
    for _ in range(1_000_000):
        now_s += chance.choice((0.1, 1.0, 10.0))
        draw = chance.random()
        if draw < 0.003:
            arming = chance.choice((OBSERVING, ARMED, ARMED))
        elif draw < 0.03:
            target_c = chance.choice((-40.0, 0.0, 2.0, 16.9, 17.0, 18.04, 20.96, 21.2, 22.0, 25.0, float("nan"), 1e9))
            meant = chance.choice((None, EventKind.REST, EventKind.RAMP, EventKind.CRASH))
            permitted = chance.random() < 0.5
        elif draw < 0.05:
            shown_c = chance.choice((None, 19.0, 3.0, float(chance.randrange(-100, 400)) / 10))
        found = guard(
            target_c,
            shown_c,
            setting=setting,
            arming=arming,
            meant=meant,
            cold_permitted=permitted,
            ability=weak,
            now_s=now_s,
        )
        setting = found.setting
        if found.write_c is None:
            continue
        writes += 1
        low_c, high_c = (1.0, 5.0) if meant is EventKind.CRASH else (17.0, 22.0 if meant else 21.0)
        assert arming is ARMED
        assert low_c - 0.05 <= found.write_c <= high_c + 0.05
        assert meant is not EventKind.CRASH or permitted
        written_s = [at_s for at_s in (*written_s, now_s) if now_s - at_s < 86_400.0]
        assert len(written_s) <= budget
        shown_c = chance.choice((found.write_c, found.write_c, found.write_c, 19.0, None))
    assert writes > 200, "and it does write"
