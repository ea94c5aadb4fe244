"""A batch: beer in a fermenter from pitch to the last fresh bottle, with all that people did to it and said of it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Annotated

from fermwatch.model.believable import PLAUSIBLE
from fermwatch.model.quantity import Quantity
from fermwatch.model.yeast import Yeast
from fermwatch.plain_data import Within

GravitySg = Annotated[float, Within(*PLAUSIBLE[Quantity.GRAVITY])]
STANDS_AT_C = 30.0  # the warmest place that a package will stand in, where nobody says: a summer's room


class GravityOrigin(StrEnum):
    """How the original gravity is known, which says how far to trust it."""

    MEASURED = "measured"  # on the full, mixed wort
    TOPPED_UP = "topped-up"  # measured, then water was added
    RECIPE = "recipe"

    @property
    def sd_points(self) -> float:
        """Standard deviation in points (common practice)."""
        return {GravityOrigin.MEASURED: 0.7, GravityOrigin.TOPPED_UP: 4.0, GravityOrigin.RECIPE: 6.0}[self]


class Instrument(StrEnum):
    HYDROMETER = "hydrometer"
    REFRACTOMETER = "refractometer"


class EventKind(StrEnum):
    """What happens to a batch besides time. Each changes what may be concluded."""

    DRY_HOP = "dry-hop"
    SUGAR = "sugar"
    FRUIT = "fruit"
    TRANSFER = "transfer"
    SPLIT = "split"
    BLEND = "blend"
    FORCED_FERMENT = "forced-ferment"
    REST = "rest"
    RAMP = "ramp"
    CRASH = "crash"
    BACK_TO_RANGE = "back-to-range"  # a rest, ramp or crash is over, or what looked like one was none
    PLAN = "plan"  # a plan of temperatures begins, goes on, is held or given up
    PACKAGED = "packaged"
    DIACETYL_TEST = "diacetyl-test"
    OBSERVATION = "observation"
    NOTE = "note"


BRINGS_EXTRACT = frozenset({EventKind.SUGAR, EventKind.FRUIT, EventKind.BLEND})  # gravity may rise, and fall again


@dataclass(frozen=True, slots=True)
class Event:
    """Something that was done or seen. `data` holds what the kind needs, as event_data.py says."""

    id: str
    at: datetime
    kind: EventKind
    data: Mapping[str, float | str | bool] = field(default_factory=dict)
    text: str = ""
    voided: bool = False


LEAST_SD_POINTS = 0.1  # no hydrometer is read better; two readings of none would divide by nothing


@dataclass(frozen=True, slots=True)
class GravityMeasurement:
    """A gravity measured by hand.

    reading: as read on the instrument, in `unit`; `gravity_sg` is corrected to SG 20/20, `sd_points` its uncertainty.
    correction: what was corrected, in words.
    """

    id: str
    at: datetime
    gravity_sg: GravitySg
    instrument: Instrument = Instrument.HYDROMETER
    sd_points: float = 0.7
    reading: float | None = None
    unit: str = "SG"
    sample_temperature_c: Annotated[float, Within(-5.0, 100.0)] | None = None
    degassed: bool = True
    correction: str = ""
    voided: bool = False

    @property
    def level_known(self) -> bool:
        """Whether it tells how far the beer has come: of a refractometer in beer only the changes do, and gas lifts a
        hydrometer by some points."""
        return self.instrument is Instrument.HYDROMETER and self.degassed


class KegWay(StrEnum):
    """How a keg comes by its CO2."""

    FORCED = "forced"  # from a cylinder, under a pressure that is set
    PRIMED = "primed"  # from sugar in it, as a bottle does


@dataclass(frozen=True, slots=True)
class PackageChoice:
    """Into what, how lively, how it gets so, and how warm it may get.

    storage_c: the warmest place that it will stand in; of a forced keg, where it stands under its pressure.
    limit_bar: the maker's figure, gauge, where there is one.
    conditioning_c: where its sugar makes CO2; None takes what suits the yeast (warmest.py).
    accident_c: how warm it may once get by accident: a car, a heatwave, a present.
    way: of a keg.
    """

    kind: str
    volumes: float
    storage_c: float = STANDS_AT_C
    limit_bar: float | None = None
    conditioning_c: float | None = None
    accident_c: float = 25.0
    way: KegWay | None = None

    @property
    def forced(self) -> bool:
        """Whether its CO2 comes from a cylinder: no sugar, nothing to condition."""
        return self.way is KegWay.FORCED


@dataclass(frozen=True, slots=True)
class Batch:
    """What was pitched, when, into what.

    extract_adjuncts_g_per_l: sugars and the like already in the wort (sucrose, lactose, maltodextrin, ...), grams per
    litre: they correct the yeast's attenuation range.
    rule_settings: settings of the rules for this batch alone, by the names of RuleSettings.
    packaged_at: when it left the fermenter for its package; the store keeps it in step with the packaged event.
    ended_at: the last fresh bottle, or the end of a beer that never came so far.
    """

    id: str
    name: str
    vessel: str
    original_sg: float
    pitched_at: datetime
    volume_l: float
    yeast: Yeast
    original_origin: GravityOrigin = GravityOrigin.MEASURED
    original_by: Instrument = Instrument.HYDROMETER
    fermenter_volume_l: float | None = None
    package: PackageChoice | None = None
    extract_adjuncts_g_per_l: Mapping[str, float] = field(default_factory=dict)
    rule_settings: Mapping[str, float] = field(default_factory=dict)
    notes: str = ""
    packaged_at: datetime | None = None
    ended_at: datetime | None = None
    version: int = 1

    @property
    def headspace(self) -> float | None:
        """The part of the fermenter left empty, 0..1; None where the fermenter's volume is not known."""
        if self.fermenter_volume_l is None:
            return None
        return (self.fermenter_volume_l - self.volume_l) / self.fermenter_volume_l

    @property
    def in_fermenter(self) -> bool:
        return self.left_fermenter_at is None

    @property
    def in_package(self) -> bool:
        """Whether it is in its bottles or keg, and not drunk up."""
        return self.packaged_at is not None and self.ended_at is None

    @property
    def left_fermenter_at(self) -> datetime | None:
        """Until when what is heard from the fermenter is about this beer; None while it is in it."""
        return min((at for at in (self.packaged_at, self.ended_at) if at is not None), default=None)

    def was_in_fermenter(self, at: datetime) -> bool:
        left = self.left_fermenter_at
        return self.pitched_at <= at and (left is None or at < left)
