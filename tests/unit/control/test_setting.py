"""A set point on a device that may ignore it, with a memory that endures a number of writes."""

import random
from collections.abc import Callable

from fermwatch.contracts.controller import SetPointAbility
from fermwatch.control.setting import Setting, step, writes_a_day

WEARS = SetPointAbility(-10.0, 40.0, 0.1, 100_000)  # writes: as one maker's manual says, from memory


def written(device: Callable[[float, float], float], wishes: list[float], every_s: float = 60.0) -> tuple[Setting, int]:
    """How it ends, and how often it was written. device: what it then shows, of what it showed and what was written."""
    setting, shown_c, writes = Setting(), 5.0, 0
    for number, wish_c in enumerate(wishes):
        setting, write = step(setting, wish_c, shown_c, number * every_s, WEARS)
        if write and setting.target_c is not None:
            shown_c, writes = device(shown_c, setting.target_c), writes + 1
    return setting, writes


def test_a_set_point_that_stays_is_written_once_a_day_and_for_ever() -> None:
    setting, writes = written(lambda _, wrote_c: wrote_c, [18.0] * 1440)
    assert setting.confirmed
    assert writes == 1


def test_a_device_that_ignores_or_clamps_is_asked_three_times() -> None:
    for most_c in (5.0, 17.0):
        setting, writes = written(lambda _, wrote_c: min(wrote_c, most_c), [18.0] * 1440)  # noqa: B023
        assert setting.given_up
        assert not setting.confirmed
        assert writes == 3


def test_no_storm_of_wishes_wears_the_memory_out() -> None:
    chance = random.Random(1)
    _, writes = written(lambda _, wrote_c: wrote_c, [chance.uniform(0.0, 30.0) for _ in range(1440)])
    assert writes == writes_a_day(WEARS) == 54


def test_what_is_not_known_is_not_written() -> None:
    assert step(Setting(), 18.0, None, 0.0, WEARS)[1] is False
