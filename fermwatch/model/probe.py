"""A probe: one quantity of one fermenter, where it comes from, and how its readings are set right."""

from array import array
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from fermwatch.model.quantity import Quantity, Unit


@dataclass(frozen=True, slots=True)
class Calibration:
    """What makes a reading right: `true = offset + factor * read`, in the canonical unit.

    One point gives the offset (factor 1), two points give both.
    """

    offset: float = 0.0
    factor: float = 1.0

    def apply(self, value: float) -> float:
        return self.offset + self.factor * value

    def apply_to_all(self, values: "array[float]") -> "array[float]":
        """The same of many: a new array, but where nothing is to be set right."""
        return values if self == Calibration() else array("d", [self.apply(value) for value in values])

    @classmethod
    def from_points(cls, low: tuple[float, float], high: tuple[float, float]) -> "Calibration":
        """From two (read, true) pairs. ValueError where the two readings are the same."""
        if low[0] == high[0]:
            raise ValueError("the two calibration points have the same reading")
        factor = (high[1] - low[1]) / (high[0] - low[0])
        return cls(offset=low[1] - factor * low[0], factor=factor)


@dataclass(frozen=True, slots=True)
class Probe:
    """A probe as configured.

    source, channel: the driver that hears it, and that driver's name for it.
    every_s: how often it is meant to speak; silent after `silent_after_s` without a reading.
    placement: where the sensor is ("thermowell", "taped and insulated", "hanging in air", ...).
    """

    slug: str
    vessel: str
    quantity: Quantity
    source: str
    channel: str
    unit: Unit
    every_s: float = 60.0
    silent_after_s: float = 300.0
    calibration: Calibration = Calibration()
    placement: str = ""


@dataclass(frozen=True, slots=True)
class Vessel:
    """A fermenter in a place. rule_settings: those configured for it and for the site, by the names of RuleSettings.
    altitude_m: of the place, above the sea.
    """

    slug: str
    name: str
    volume_l: float
    rule_settings: Mapping[str, float] = field(default_factory=dict)
    altitude_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Binding:
    """Which fermenter a series served, how calibrated, and from when: applied on reading, so history does not move."""

    series: int
    vessel: str
    calibration: Calibration
    valid_from: datetime
