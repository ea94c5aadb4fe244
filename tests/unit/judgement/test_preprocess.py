import numpy as np
import pytest

from fermwatch.judgement.preprocess import RecentGravity, noise_of, plausible_gravity, plausible_temperature, stuck
from fermwatch.judgement.series import Series


def filled(values: list[float], every_h: float = 0.25) -> Series:
    series = Series()
    for index, value in enumerate(values):
        series.add(index * every_h, value)
    return series


def test_a_reading_delivered_twice_is_one_reading() -> None:
    series = Series()
    assert series.add(1.0, 50.0)
    assert not series.add(1.0, 50.0)
    assert series.add(0.5, 51.0)
    assert [hour for hour, _ in series.between(0.0, 2.0)] == [0.5, 1.0]


@pytest.mark.parametrize("celsius", [85.0, -127.0, 99.0])
def test_power_on_codes_and_the_impossible_are_no_temperatures(celsius: float) -> None:
    assert not plausible_temperature(celsius)


def test_gravity_outside_of_what_beer_can_be_is_dropped() -> None:
    assert plausible_gravity(50.0)
    assert not plausible_gravity(300.0)


def test_noise_is_seen_through_a_fall() -> None:
    random = np.random.default_rng(1)
    falling = 50.0 - 0.1 * np.arange(400) + random.normal(0.0, 1.5, 400)
    assert noise_of(falling) == pytest.approx(1.5, rel=0.15)


def test_a_float_that_sticks_is_found_and_a_coarse_one_is_not() -> None:
    random = np.random.default_rng(2)
    values = np.round(30.0 + random.normal(0.0, 1.0, 200), 1)
    values[100:140] = values[100]
    hours = np.arange(200, dtype=np.float64) * 0.25
    mask = stuck(hours, values)
    assert mask[102:138].all()
    assert not mask[:95].any()
    coarse = np.round(30.0 + random.normal(0.0, 0.4, 200))
    assert stuck(hours, coarse).mean() < 0.1


def test_a_bin_rests_on_nothing_after_its_end() -> None:
    series = filled([50.0 + 0.01 * index for index in range(60)])
    before = RecentGravity.before(series, 6.0).bin(6.0, Series(), 20.0)
    series.add(6.1, 10.0)
    assert RecentGravity.before(series, 6.0).bin(6.0, Series(), 20.0) == before


def test_an_old_temperature_is_not_known() -> None:
    temperature = Series()
    temperature.add(1.0, 18.0)
    window = RecentGravity.before(Series(), 60.0)
    assert window.bin(3.0, temperature, 20.0).temperature_known
    stale = window.bin(60.0, temperature, 20.0)
    assert (stale.temperature_c, stale.temperature_known) == (18.0, False)
