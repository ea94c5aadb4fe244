"""Probes: the truth in, what a device would say out, or nothing. Every flaw that a real one has can be set.

A probe speaks in its own unit and in its own steps. The same seed says the same numbers.
"""

import random
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum

from fermwatch.model.quantity import Quantity, Unit
from fermwatch.science.extract import sg_to_plato
from fermwatch.units import fahrenheit

POWER_ON_CODE_C = 85.0  # what common digital thermometers say when they have measured nothing


class What(StrEnum):
    """What a probe looks at; the last part of its slug and of its topic."""

    BEER = "beer"
    AIR = "air"
    GRAVITY = "gravity"
    SET_POINT = "set-point"
    COMPRESSOR = "compressor"

    @property
    def quantity(self) -> Quantity:
        return {
            What.BEER: Quantity.BEER_TEMPERATURE,
            What.AIR: Quantity.AIR_TEMPERATURE,
            What.GRAVITY: Quantity.GRAVITY,
            What.SET_POINT: Quantity.SET_POINT,
            What.COMPRESSOR: Quantity.OUTPUT,
        }[self]


class FaultKind(StrEnum):
    SILENT = "silent"
    STUCK = "stuck"
    POWER_ON_CODE = "power-on-code"
    OFFSET = "offset"


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong with a probe until an instant; `amount` in its own unit, for an offset."""

    kind: FaultKind
    until: datetime
    amount: float = 0.0


@dataclass(frozen=True, slots=True)
class Flaws:
    """noise: standard deviation. resolution: its smallest step. All but `lag_s` in the probe's own unit.

    lag_s: time constant by which a sensor in its well trails the beer. dropout: chance that one reading is missing.
    foam: by how much a float stands too high, and doubles its noise, at full ferment.
    """

    noise: float = 0.0
    resolution: float = 0.0
    offset: float = 0.0
    drift_per_day: float = 0.0
    lag_s: float = 0.0
    dropout: float = 0.0
    foam: float = 0.0


# Steps and noise of common parts: digital thermometers step by 1/16 °C, floats by a tenth of a point.
_SIXTEENTH_C = 0.0625
USUAL_FLAWS = {
    (What.BEER, Unit.CELSIUS): Flaws(noise=0.03, resolution=_SIXTEENTH_C, lag_s=240.0),
    (What.BEER, Unit.FAHRENHEIT): Flaws(noise=0.05, resolution=0.1, lag_s=240.0),
    (What.AIR, Unit.CELSIUS): Flaws(noise=0.05, resolution=_SIXTEENTH_C, lag_s=60.0),
    (What.AIR, Unit.FAHRENHEIT): Flaws(noise=0.1, resolution=0.1, lag_s=60.0),
    (What.GRAVITY, Unit.SG): Flaws(noise=0.0003, resolution=0.0001, foam=0.0008),
    (What.GRAVITY, Unit.POINTS): Flaws(noise=0.3, resolution=0.1, foam=0.8),
    (What.GRAVITY, Unit.PLATO): Flaws(noise=0.07, resolution=0.01, foam=0.2),
    (What.SET_POINT, Unit.CELSIUS): Flaws(resolution=0.1),
    (What.SET_POINT, Unit.FAHRENHEIT): Flaws(resolution=0.1),
    (What.COMPRESSOR, Unit.SWITCH): Flaws(resolution=1.0),
}


def in_unit(value: float, unit: Unit) -> float:
    """A value in canonical unit as a device that speaks `unit` would have it."""
    match unit:
        case Unit.FAHRENHEIT:
            return fahrenheit(value)
        case Unit.POINTS:
            return (value - 1.0) * 1000.0
        case Unit.PLATO | Unit.BRIX:
            return sg_to_plato(value)
        case Unit.PERCENT:
            return value * 100.0
        case _:
            return value


@dataclass(slots=True)
class Sensor:
    """One probe at work. `follow` lets it feel the truth, `read` makes it speak."""

    unit: Unit
    every_s: float
    flaws: Flaws
    chance: random.Random
    installed_at: datetime
    faults: list[Fault] = field(default_factory=list)
    felt: float | None = None
    said: float | None = None

    def follow(self, truth: float, dt_s: float) -> None:
        """Feel the truth (canonical unit) for `dt_s` seconds, with the probe's thermal lag."""
        if self.felt is None or self.flaws.lag_s <= 0.0:
            self.felt = truth
        else:
            self.felt += (truth - self.felt) * dt_s / (self.flaws.lag_s + dt_s)

    def read(self, at: datetime, *, liveliness: float = 0.0) -> float | None:
        """What the probe says at `at`, or None where it says nothing. liveliness: of the ferment, 0..1, for foam."""
        noise = self.chance.gauss(0.0, 1.0)
        missing = self.chance.random() < self.flaws.dropout
        fault = self._fault(at)
        if self.felt is None or missing or (fault and fault.kind is FaultKind.SILENT):
            return None
        if fault and fault.kind is FaultKind.POWER_ON_CODE:
            return in_unit(POWER_ON_CODE_C, self.unit)
        if not (fault and fault.kind is FaultKind.STUCK and self.said is not None):
            self.said = self._value(at, noise, liveliness, fault.amount if fault else 0.0)
        return self.said

    def is_due(self, at: datetime, step_s: float, *, at_least_s: float = 0.0) -> bool:
        """Whether it speaks in the step that ends at `at`."""
        interval_s = max(self.every_s, at_least_s)
        return (at - self.installed_at).total_seconds() % interval_s < step_s

    def _fault(self, at: datetime) -> Fault | None:
        self.faults = [fault for fault in self.faults if fault.until > at]
        return self.faults[-1] if self.faults else None

    def _value(self, at: datetime, noise: float, liveliness: float, fault_offset: float) -> float:
        flaws = self.flaws
        days = (at - self.installed_at) / timedelta(days=1)
        value = in_unit(self.felt or 0.0, self.unit) + flaws.offset + flaws.drift_per_day * days + fault_offset
        value += flaws.foam * liveliness + flaws.noise * noise * (1.0 + liveliness if flaws.foam else 1.0)
        if not flaws.resolution:
            return value
        return round(round(value / flaws.resolution) * flaws.resolution, 6)
