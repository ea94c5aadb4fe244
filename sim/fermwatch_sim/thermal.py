"""Heat in the cellar: beer, the fridge's air and cold plate, the room with its day and night, and the controller.

The air's temperature is solved for implicitly, so that a step of a minute is stable with the door open too and no heat
is lost or made between beer, air and plate. Sizes are those of a larder fridge with buckets in it (from memory).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

BEER_HEAT_J_PER_KG_K = 3900.0  # wort of 12 °P at 20 °C, Bubnik et al., Sugar Technologists Manual (1995)
_WARMEST_HOUR = 15.0
_DAY_H = 24.0
_STRICT = {"extra": "forbid", "allow_inf_nan": False}  # where a scenario's file sets it: a slip is no silent default
_AIR_BELOW_SET_POINT_K, _AIR_ABOVE_SET_POINT_K = 8.0, 10.0


@dataclass(frozen=True, slots=True)
class Room:
    """mean_c: over the day. swing_c: from the mean to the warmest hour of the afternoon."""

    __pydantic_config__: ClassVar = _STRICT

    mean_c: float = 21.0
    swing_c: float = 1.5

    def temperature_c(self, at: datetime) -> float:
        hour = at.hour + at.minute / 60.0
        return self.mean_c + self.swing_c * math.cos((hour - _WARMEST_HOUR) * 2.0 * math.pi / _DAY_H)


@dataclass(frozen=True, slots=True)
class Cabinet:
    """The fridge without what stands in it: heat capacities in J/K, conductances in W/K, cooling in W."""

    __pydantic_config__: ClassVar = _STRICT

    air_j_per_k: float = 8_000.0
    plate_j_per_k: float = 20_000.0
    plate_w_per_k: float = 8.0
    insulation_w_per_k: float = 1.6
    open_door_w_per_k: float = 30.0
    cooling_w: float = 90.0


@dataclass(frozen=True, slots=True)
class Air:
    """What the fridge is at one instant."""

    air_c: float
    plate_c: float


@dataclass(frozen=True, slots=True)
class Body:
    """A fermenter as the air feels it."""

    temperature_c: float
    ua_w_per_k: float


def step_air(
    cabinet: Cabinet, air: Air, bodies: Sequence[Body], *, room_c: float, cooling: bool, door_open: bool, dt_s: float
) -> Air:
    """Air and plate `dt_s` seconds later. Beer exchanges heat with the air returned, not with that before."""
    to_room = cabinet.open_door_w_per_k if door_open else cabinet.insulation_w_per_k
    storage = cabinet.air_j_per_k / dt_s
    weights = storage + to_room + cabinet.plate_w_per_k
    heat = storage * air.air_c + to_room * room_c + cabinet.plate_w_per_k * air.plate_c
    for body in bodies:
        weights += body.ua_w_per_k
        heat += body.ua_w_per_k * body.temperature_c
    air_c = heat / weights
    into_plate_w = cabinet.plate_w_per_k * (air_c - air.plate_c) - (cabinet.cooling_w if cooling else 0.0)
    return Air(air_c=air_c, plate_c=air.plate_c + into_plate_w * dt_s / cabinet.plate_j_per_k)


def step_beer(
    temperature_c: float, *, surroundings_c: float, ua_w_per_k: float, heat_w: float, heat_j_per_k: float, dt_s: float
) -> float:
    """Beer's temperature `dt_s` seconds later; stirred by its own gas, so it has one temperature."""
    return temperature_c + (heat_w - ua_w_per_k * (temperature_c - surroundings_c)) * dt_s / heat_j_per_k


@dataclass(frozen=True, slots=True)
class AirController:
    """Holds one fermenter's beer by moving the air: the further off the beer, the further the air is sent.

    set_point_c: of the beer. gain: kelvin of air per kelvin of beer. deadband_c: of the air, above and below.
    rest_s, shortest_run_s, shortest_cycle_s: what a compressor needs (common practice).
    """

    set_point_c: float
    gain: float = 4.0
    deadband_c: float = 0.7
    rest_s: float = 300.0
    shortest_run_s: float = 180.0
    shortest_cycle_s: float = 900.0

    def air_target_c(self, beer_c: float) -> float:
        wanted = self.set_point_c + self.gain * (self.set_point_c - beer_c)
        low, high = self.set_point_c - _AIR_BELOW_SET_POINT_K, self.set_point_c + _AIR_ABOVE_SET_POINT_K
        return min(max(wanted, low, -1.0), high)

    def decide(self, compressor: "Compressor", *, air_c: float, beer_c: float, dt_s: float) -> "Compressor":
        """The compressor for the next `dt_s` seconds."""
        target_c = self.air_target_c(beer_c)
        older = Compressor(compressor.running, compressor.state_s + dt_s, compressor.started_s + dt_s)
        if older.running:
            stop = air_c < target_c - self.deadband_c and older.state_s >= self.shortest_run_s
            return Compressor(running=False, state_s=0.0, started_s=older.started_s) if stop else older
        rested = older.state_s >= self.rest_s and older.started_s >= self.shortest_cycle_s
        start = air_c > target_c + self.deadband_c and rested
        return Compressor(running=True, state_s=0.0, started_s=0.0) if start else older


@dataclass(frozen=True, slots=True)
class Compressor:
    """state_s: since it last switched. started_s: since it last started. Unknown history counts as just stopped."""

    running: bool = False
    state_s: float = 0.0
    started_s: float = 0.0
