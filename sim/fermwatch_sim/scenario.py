"""A scenario: a cellar, what is pitched into it, and what happens when. One TOML file each, checked before it runs.

Times are hours from the scenario's start, negative before it: the same story can begin at any instant. Everything in
the shipped scenarios is invented.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Annotated, Any, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from fermwatch.errors import ConfigError
from fermwatch.model.batch import Instrument
from fermwatch.model.probe import Vessel
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.model.yeast import Yeast
from fermwatch.science.yeasts import YEASTS
from fermwatch_sim.sensors import USUAL_FLAWS, FaultKind, Flaws, What
from fermwatch_sim.thermal import Cabinet, Room

ScenarioSlug = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]{0,30}$")]


class WireKind(StrEnum):
    SERIAL = "serial"
    MQTT = "mqtt"
    MODBUS = "modbus"  # the fridge's controller is asked


class ActKind(StrEnum):
    """What people, faults and a broken door do."""

    SET_POINT = "set-point"  # value: °C, of the beer in `fermenter`, which the controller follows from then on
    JACKET = "jacket"  # value: share of the heat that still passes; 1 takes the jacket off
    BELT = "belt"  # value: °C that the heating belt holds; hours: for how long
    ROUSE = "rouse"
    DOOR = "door"  # hours: for how long it stands open
    FAULT = "fault"  # probe, fault, hours, value
    HYDROMETER = "hydrometer"
    NOTE = "note"


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class ProbePart(_Part):
    what: What
    unit: Unit
    wire: WireKind = WireKind.SERIAL
    every_s: float = Field(default=0.0, ge=0.0, description="0: a minute, or a quarter of an hour for gravity")
    placement: str = ""
    offset: float = 0.0
    drift_per_day: float = 0.0
    dropout: float = Field(default=0.0, ge=0.0, lt=1.0)

    @model_validator(mode="after")
    def _is_measurable(self) -> Self:
        if (self.what, self.unit) not in USUAL_FLAWS:
            allowed = ", ".join(unit for what, unit in USUAL_FLAWS if what is self.what)
            raise ValueError(f"a {self.what} probe does not speak {self.unit}; use one of: {allowed}")
        return self

    @property
    def interval_s(self) -> float:
        return self.every_s or (900.0 if self.what is What.GRAVITY else 60.0)

    @property
    def flaws(self) -> Flaws:
        usual = USUAL_FLAWS[self.what, self.unit]
        return replace(usual, offset=self.offset, drift_per_day=self.drift_per_day, dropout=self.dropout)


def known_kind(kind: str) -> str:
    if kind not in YEASTS:
        raise ValueError(f"no yeast is of the kind {kind!r}; there are: {', '.join(YEASTS)}")
    return kind


def yeast_of(slug: str) -> Yeast:
    """A generic kind as a batch has it."""
    kind = YEASTS[slug]
    return Yeast(
        kind=kind.slug,
        name=kind.name,
        temperature_low_c=kind.temperature_c[0],
        temperature_high_c=kind.temperature_c[1],
        attenuation_low=kind.attenuation[0],
        attenuation_high=kind.attenuation[1],
        lag_max_h=kind.longest_lag_h,
        alcohol_tolerance_abv=kind.alcohol_tolerance_abv,
        diastatic=kind.diastatic,
        bottom_fermenting=kind.lager,
        maltose_negative=kind.maltose_negative,
    )


class BatchPart(_Part):
    """What was pitched: `yeast` is a generic kind. `attenuation`, `vigour` and `lag_h` are how it really behaves."""

    name: str
    original_sg: float = Field(gt=1.0, lt=1.15)
    volume_l: float = Field(gt=0.0)
    pitched_h: float
    pitch_c: float
    kind: str = Field(alias="yeast")
    attenuation: float | None = Field(default=None, gt=0.0, lt=1.0)
    vigour: float = Field(default=0.0024, gt=0.0)
    lag_h: float = Field(default=9.0, gt=0.0)

    _is_known = field_validator("kind")(known_kind)

    @property
    def yeast(self) -> Yeast:
        return yeast_of(self.kind)


class FermenterPart(_Part):
    slug: ScenarioSlug
    name: str
    volume_l: float = Field(gt=0.0)
    ua_w_per_k: float = Field(default=1.8, gt=0.0)
    jacket: float = Field(default=1.0, gt=0.0, le=1.0)
    batch: BatchPart
    probes: tuple[ProbePart, ...]

    @property
    def vessel(self) -> Vessel:
        return Vessel(self.slug, self.name, self.volume_l)

    def probe_slug(self, what: What) -> str:
        return f"{self.slug}-{what}"


class PackagedPart(_Part):
    """A beer that had left its fermenter before the story began, and conditions in its bottles. readings: hours, SG."""

    fermenter: str
    name: str
    kind: str = Field(alias="yeast")
    original_sg: float = Field(gt=1.0, lt=1.15)
    volume_l: float = Field(gt=0.0)
    pitched_h: float
    readings: tuple[tuple[float, float], ...] = ()
    packaged_h: float = Field(lt=0.0)
    package: str = "returnable-glass"
    volumes: float
    sugar_g_per_l: float
    conditioning_c: float = 20.0
    storage_c: float = 25.0

    _is_known = field_validator("kind")(known_kind)

    @property
    def yeast(self) -> Yeast:
        return yeast_of(self.kind)


class RegulatedPart(_Part):
    """The fermenter whose plan the fridge's controller follows from the start on, and the plan's steps."""

    fermenter: str
    steps: str


class Act(_Part):
    """Something that happens at an hour. `text` is what is written down of it; without it nobody notices."""

    at_h: float
    kind: ActKind
    fermenter: str = ""
    value: float = 0.0
    hours: float = Field(default=0.0, ge=0.0)
    probe: What | None = None
    fault: FaultKind | None = None
    instrument: Instrument = Instrument.HYDROMETER
    text: str = ""

    @model_validator(mode="after")
    def _has_what_it_needs(self) -> Self:
        if self.kind is not ActKind.DOOR and not self.fermenter:
            raise ValueError(f"`fermenter` is missing: a {self.kind} happens to one")
        if self.kind is ActKind.FAULT and (self.probe is None or self.fault is None or not self.hours):
            raise ValueError("a fault needs `probe`, `fault` and `hours`")
        if self.kind in {ActKind.DOOR, ActKind.BELT} and not self.hours:
            raise ValueError(f"a {self.kind} needs `hours`")
        return self


@dataclass(frozen=True, slots=True)
class PlacedProbe:
    """A probe of the cellar as the configuration needs to know it."""

    slug: str
    vessel: str
    what: What
    quantity: Quantity
    unit: Unit
    wire: WireKind
    every_s: float
    placement: str


class Scenario(_Part):
    title: str
    story: str
    length_h: float = Field(gt=0.0)
    room: Room = Room()
    cabinet: Cabinet = Cabinet()
    set_point_c: float
    lead: str
    regulated: RegulatedPart | None = None
    fermenters: tuple[FermenterPart, ...] = Field(min_length=1, alias="fermenter")
    acts: tuple[Act, ...] = Field(default=(), alias="act")
    packaged: tuple[PackagedPart, ...] = ()

    @field_validator("acts")
    @classmethod
    def _in_order(cls, acts: tuple[Act, ...]) -> tuple[Act, ...]:
        return tuple(sorted(acts, key=lambda act: act.at_h))

    @model_validator(mode="after")
    def _names_what_is_there(self) -> Self:
        slugs = [fermenter.slug for fermenter in self.fermenters]
        if len(set(slugs)) < len(slugs):
            raise ValueError("two fermenters have the same slug")
        regulated = set() if self.regulated is None else {self.regulated.fermenter}
        named = {
            *regulated,
            self.lead,
            *(one.fermenter for one in self.packaged),
            *(act.fermenter for act in self.acts if act.fermenter),
        }
        if unknown := sorted(named - set(slugs)):
            raise ValueError(f"no fermenter is called {unknown[0]!r}; there are: {', '.join(slugs)}")
        placed = {probe.slug for probe in self.probes}
        for act in self.acts:
            if act.probe is not None and (missing := f"{act.fermenter}-{act.probe}") not in placed:
                raise ValueError(f"there is no probe {missing} that could fail")
        return self

    @property
    def begins_h(self) -> float:
        """When the first beer is pitched, hours from the start: at most 0."""
        return min(0.0, *(fermenter.batch.pitched_h for fermenter in self.fermenters), 0.0)

    @property
    def vessels(self) -> tuple[Vessel, ...]:
        return tuple(fermenter.vessel for fermenter in self.fermenters)

    @property
    def probes(self) -> tuple[PlacedProbe, ...]:
        return tuple(
            PlacedProbe(
                slug=part.probe_slug(probe.what),
                vessel=part.slug,
                what=probe.what,
                quantity=probe.what.quantity,
                unit=probe.unit,
                wire=probe.wire,
                every_s=probe.interval_s,
                placement=probe.placement,
            )
            for part in self.fermenters
            for probe in part.probes
        )


def shipped() -> tuple[str, ...]:
    """The names that `load` knows without a path."""
    return tuple(
        sorted(entry.name.removesuffix(".toml") for entry in _folder().iterdir() if entry.name[-5:] == ".toml")
    )


def load(name: str | Path) -> Scenario:
    """A shipped scenario by name, or anybody's by path.

    Raises ConfigError naming file and key where it cannot be read or does not make sense.
    """
    source: Traversable = _folder() / f"{name}.toml" if isinstance(name, str) else name
    place = Path(str(source))
    try:
        text = source.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise ConfigError("there is no such scenario.", file=place, hint=f"Shipped: {', '.join(shipped())}.") from None
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"cannot be read: {error}.", file=place) from error
    try:
        return parse(tomllib.loads(text))
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise ConfigError(f"is not TOML: {error}.", file=place) from error
    except ValidationError as error:
        first = error.errors()[0]
        key = ".".join(str(part) for part in first["loc"])
        raise ConfigError(f"{first['msg'].removeprefix('Value error, ')}.", file=place, key=key) from error


def parse(data: Mapping[str, Any]) -> Scenario:
    """A scenario from TOML's plain data; pydantic's ValidationError where it does not make sense."""
    return Scenario.model_validate(data)


def _folder() -> Traversable:
    return resources.files("fermwatch_sim") / "scenarios"
