"""The fridge: heat is neither made nor lost, and the compressor gets its rest."""

import itertools
from datetime import UTC, datetime, timedelta

import pytest

from fermwatch_sim.thermal import (
    BEER_HEAT_J_PER_KG_K,
    Air,
    AirController,
    Body,
    Cabinet,
    Compressor,
    Room,
    step_air,
    step_beer,
)

NOON = datetime(2026, 3, 14, 12, tzinfo=UTC)
CABINET = Cabinet()
UA = 1.8


def test_the_room_is_warmest_in_the_afternoon_and_has_its_mean() -> None:
    room = Room(mean_c=20.0, swing_c=3.0)
    day = [room.temperature_c(NOON + timedelta(hours=hour)) for hour in range(24)]
    assert max(day) == room.temperature_c(NOON.replace(hour=15)) == pytest.approx(23.0)
    assert min(day) == room.temperature_c(NOON.replace(hour=3)) == pytest.approx(17.0)
    assert sum(day) / 24 == pytest.approx(20.0)


def test_heat_is_conserved_in_a_fridge_shut_off_from_the_room() -> None:
    sealed = Cabinet(insulation_w_per_k=0.0)
    air, beers, capacity = Air(10.0, 5.0), [22.0, 18.0], 80_000.0

    def stored() -> float:
        return sealed.air_j_per_k * air.air_c + sealed.plate_j_per_k * air.plate_c + capacity * sum(beers)

    before = stored()
    for _ in range(2000):
        bodies = [Body(beer, UA) for beer in beers]
        air = step_air(sealed, air, bodies, room_c=30.0, cooling=False, door_open=False, dt_s=60.0)
        beers = [
            step_beer(beer, surroundings_c=air.air_c, ua_w_per_k=UA, heat_w=0.0, heat_j_per_k=capacity, dt_s=60.0)
            for beer in beers
        ]
    assert stored() == pytest.approx(before, rel=1e-12)


def test_beer_settles_above_the_air_by_its_power_over_its_conductance() -> None:
    """7 W through 1 to 2.5 W/K are 3 to 7 K: beer at full ferment is kelvins warmer than its fridge."""
    beer_c = 18.0
    for _ in range(20_000):
        beer_c = step_beer(
            beer_c,
            surroundings_c=16.0,
            ua_w_per_k=2.0,
            heat_w=7.0,
            heat_j_per_k=20.0 * BEER_HEAT_J_PER_KG_K,
            dt_s=60.0,
        )
    assert beer_c == pytest.approx(16.0 + 7.0 / 2.0, abs=1e-6)


def test_an_empty_fridge_left_alone_takes_the_rooms_temperature_sooner_with_the_door_open() -> None:
    def after_an_hour(*, door_open: bool) -> float:
        air = Air(4.0, 4.0)
        for _ in range(60):
            air = step_air(CABINET, air, [], room_c=24.0, cooling=False, door_open=door_open, dt_s=60.0)
        return air.air_c

    assert 4.0 < after_an_hour(door_open=False) < after_an_hour(door_open=True) < 24.0


def test_a_long_step_is_as_stable_as_a_short_one() -> None:
    air = Air(4.0, 4.0)
    bodies = [Body(20.0, 50.0)] * 4
    for _ in range(50):
        air = step_air(CABINET, air, bodies, room_c=24.0, cooling=False, door_open=True, dt_s=900.0)
        assert 4.0 <= air.air_c <= 24.0


def test_the_colder_the_air_must_be_the_further_the_beer_is_above_its_set_point() -> None:
    controller = AirController(18.0)
    assert controller.air_target_c(18.0) == pytest.approx(18.0)
    assert controller.air_target_c(18.5) == pytest.approx(16.0)
    assert controller.air_target_c(30.0) == pytest.approx(10.0), "never more than 8 K below the set point"
    assert controller.air_target_c(2.0) == pytest.approx(28.0)
    assert AirController(2.0).air_target_c(30.0) == pytest.approx(-1.0), "and never so cold that beer freezes"


def switches(air_temperatures: list[float], dt_s: float) -> list[tuple[float, bool]]:
    controller, compressor, seen, elapsed_s = AirController(18.0), Compressor(), [], 0.0
    for air_c in air_temperatures:
        elapsed_s += dt_s
        after = controller.decide(compressor, air_c=air_c, beer_c=18.0, dt_s=dt_s)
        if after.running is not compressor.running:
            seen.append((elapsed_s, after.running))
        compressor = after
    return seen


def test_a_compressor_of_unknown_history_rests_before_its_first_start() -> None:
    first_at_s, running = switches([30.0] * 60, 60.0)[0]
    assert running
    assert first_at_s >= 300.0


def test_the_compressor_never_short_cycles_however_the_air_swings() -> None:
    swinging = [10.0 if minute % 2 else 30.0 for minute in range(600)]
    seen = switches(swinging, 60.0)
    assert len(seen) > 20
    for (before_s, was_on), (after_s, _) in itertools.pairwise(seen):
        assert after_s - before_s >= (180.0 if was_on else 300.0)
    starts = [at_s for at_s, running in seen if running]
    assert all(later - earlier >= 900.0 for earlier, later in itertools.pairwise(starts)), "4 starts an hour at most"


def test_within_the_deadband_nothing_switches() -> None:
    assert switches([18.5, 17.5] * 100, 60.0) == []
