"""What every shipped scenario tells, asserted on the truth: whatever hour of the day it begins at."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from fermwatch_sim.cellar import Cellar, ProbeValue
from fermwatch_sim.scenario import load
from fermwatch_sim.tank import Truth

HOURS_OF_DAY = (0, 9, 18)


def begun(name: str, hour: int = 18) -> Cellar:
    return Cellar(load(name), start=datetime(2026, 3, 14, hour, tzinfo=UTC))


def follow(cellar: Cellar, vessel: str, until_h: float) -> list[tuple[float, Truth]]:
    """The truth of a fermenter every half an hour, with the hours since the start, from now until `until_h`."""
    told = []
    while cellar.now < cellar.start + timedelta(hours=until_h):
        cellar.advance(cellar.now + timedelta(minutes=30))
        told.append(((cellar.now - cellar.start) / timedelta(hours=1), cellar.truth(vessel)))
    return told


def at(told: list[tuple[float, Truth]], hour: float) -> Truth:
    return next(truth for when, truth in told if when >= hour)


def span(told: list[tuple[float, Truth]], value: Callable[[Truth], float], start: float, end: float) -> list[float]:
    return [value(truth) for when, truth in told if start <= when <= end]


def beer_c(truth: Truth) -> float:
    return truth.beer_c


def gravity_sg(truth: Truth) -> float:
    return truth.gravity_sg


@pytest.mark.parametrize("hour", HOURS_OF_DAY)
def test_demo_the_ale_is_healthy_in_full_ferment_and_slows_to_its_end(hour: int) -> None:
    told = follow(begun("demo", hour), "left", 44.0)
    assert 0.5 < at(told, 0.0).attenuation < 0.65
    assert min(span(told, beer_c, -60.0, 44.0)) > 17.0
    assert max(span(told, beer_c, -60.0, 44.0)) < 22.0
    assert at(told, -6.0).gravity_sg - at(told, 0.0).gravity_sg > 0.003
    assert 0.73 < at(told, 44.0).attenuation < 0.81
    assert at(told, 38.0).gravity_sg - at(told, 44.0).gravity_sg < 0.0005


@pytest.mark.parametrize("hour", HOURS_OF_DAY)
def test_demo_the_wheat_is_hot_from_its_pitch_until_its_jacket_comes_off(hour: int) -> None:
    told = follow(begun("demo", hour), "middle", 44.0)
    highest_c = 24.0
    assert min(span(told, beer_c, -31.0, -8.0)) > highest_c + 1.0
    critical = span(told, beer_c, -2.0, 7.0)
    assert min(critical) > highest_c + 2.3
    assert max(critical) < highest_c + 4.0
    assert max(span(told, beer_c, 14.0, 44.0)) < highest_c
    assert min(span(told, beer_c, 14.0, 44.0)) > 17.6


@pytest.mark.parametrize("hour", HOURS_OF_DAY)
def test_demo_the_abbey_is_stalled_high_after_a_chill_until_it_is_roused_and_warmed(hour: int) -> None:
    told = follow(begun("demo", hour), "right", 44.0)
    highest_terminal_sg = 1.0 + 0.064 * (1.0 - 0.74)
    assert min(span(told, beer_c, -80.0, -60.0)) < 16.0, "it was chilled under its range first"
    stalled = span(told, gravity_sg, -48.0, 8.0)
    assert max(stalled) - min(stalled) < 0.0003
    assert 0.007 < min(stalled) - highest_terminal_sg < 0.011
    assert at(told, 9.0).gravity_sg - at(told, 20.0).gravity_sg > 0.003, "and then goes on"
    assert at(told, 44.0).gravity_sg < highest_terminal_sg
    assert 18.0 < at(told, 20.0).beer_c < 26.0


def test_healthy_ale_ends_in_its_range_within_the_week() -> None:
    told = follow(begun("healthy-ale"), "tall", 168.0)
    assert min(span(told, beer_c, 0.0, 168.0)) > 17.0
    assert max(span(told, beer_c, 0.0, 168.0)) < 22.0
    assert at(told, 12.0).attenuation < 0.05, "a lag"
    assert 0.73 < at(told, 120.0).attenuation < 0.81
    assert at(told, 120.0).gravity_sg - at(told, 168.0).gravity_sg < 0.0002


def test_hot_pitch_is_over_its_range_at_first_and_then_within() -> None:
    told = follow(begun("hot-pitch"), "tall", 96.0)
    assert at(told, 4.0).beer_c > 26.0
    assert max(span(told, beer_c, 48.0, 96.0)) < 24.0


def test_stall_stops_far_above_its_end_for_days_and_comes_back() -> None:
    told = follow(begun("stall"), "tall", 216.0)
    flat = span(told, gravity_sg, 80.0, 149.0)
    assert max(flat) - min(flat) < 0.0005
    assert min(flat) > 1.0 + 0.050 * (1.0 - 0.65) + 0.002
    assert at(told, 216.0).attenuation > 0.68


def test_fridge_open_takes_the_beer_over_its_range_and_back() -> None:
    told = follow(begun("fridge-open"), "tall", 96.0)
    assert max(span(told, beer_c, 0.0, 44.0)) < 20.0
    assert max(span(told, beer_c, 44.0, 60.0)) > 23.0
    assert at(told, 72.0).beer_c < 19.0


def test_silent_probe_is_silent_then_says_its_power_on_code_while_the_beer_is_well() -> None:
    cellar = begun("silent-probe")
    samples = [sample for sample in cellar.advance(cellar.ends).samples if sample.probe == "tall-beer"]

    def said(start_h: float, end_h: float) -> list[ProbeValue]:
        return [sample for sample in samples if start_h <= (sample.at - cellar.start) / timedelta(hours=1) < end_h]

    assert len(said(24.0, 30.0)) == 360
    assert said(30.0, 36.0) == []
    assert {sample.value for sample in said(36.0, 36.1)} == {85.0}
    assert all(17.0 < sample.value < 22.0 for sample in said(36.5, 96.0))


def test_silent_probe_has_a_float_that_sticks_for_a_day() -> None:
    cellar = begun("silent-probe")
    samples = [sample for sample in cellar.advance(cellar.ends).samples if sample.probe == "tall-gravity"]
    stuck = {sample.value for sample in samples if 60.0 <= (sample.at - cellar.start) / timedelta(hours=1) < 84.0}
    assert len(stuck) == 1


@pytest.mark.parametrize("hour", range(0, 24, 3))
def test_demo_the_door_shows_in_the_air_by_day_and_by_night(hour: int) -> None:
    """A room that is as cold as the beer by night would show a door that stands open as ice on the plate."""
    cellar = begun("demo", hour)
    cellar.history()
    told = cellar.advance(cellar.start + timedelta(hours=5)).samples
    air = [(((one.at - cellar.start) / timedelta(hours=1)), one.value) for one in told if one.probe == "left-air"]
    shut, opened = [c for at_h, c in air if 2 <= at_h < 3], [c for at_h, c in air if at_h >= 3.5]
    assert min(opened) - max(shut) > 1.2
    assert min(opened) - min(shut) > 2.5
