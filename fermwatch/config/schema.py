"""What may be said: models with one sentence for the human under each key."""

import re
import zoneinfo
from collections.abc import Mapping
from datetime import time
from pathlib import Path
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    StringConstraints,
    ValidationInfo,
    field_validator,
    model_validator,
)

from fermwatch.config.mistakes import misplaced
from fermwatch.errors import InputError
from fermwatch.model.degree import Degree
from fermwatch.model.history import NOWHERE
from fermwatch.model.probe import Calibration, Probe, Vessel
from fermwatch.model.quantity import CANONICAL_UNIT, Quantity, Unit
from fermwatch.model.rule_settings import RuleSettings, wrong_setting
from fermwatch.saying.voice import units_of
from fermwatch.text import clean
from fermwatch.units import units_of as units_known_of


def _slug(value: str) -> str:
    if not re.fullmatch(r"[a-z0-9][a-z0-9-]{0,31}", value):
        raise ValueError("use small letters, digits and dashes, at most 32")
    return value


Slug = Annotated[str, AfterValidator(_slug)]
TopicPrefix = Annotated[str, StringConstraints(pattern=r"^[^+#$\x00-\x20/]+(/[^+#\x00-\x20/]+)*$", max_length=100)]
Name = Annotated[str, StringConstraints(min_length=1, max_length=40, strip_whitespace=True)]
Point = tuple[float, float]


class Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class SiteConfig(Strict):
    name: Slug = Field("home", description="A short name for the place, kept for ever: letters, digits and dashes.")
    timezone: str = Field("UTC", description="The IANA time zone that times are shown in, as Europe/Vienna.")
    altitude_m: float = Field(
        0.0,
        ge=-450.0,
        le=5000.0,
        description="Metres above the sea: in thin air beer holds less CO2, and a gauge shows more.",
    )

    @field_validator("timezone")
    @classmethod
    def _known(cls, value: str) -> str:
        try:
            zoneinfo.ZoneInfo(value)
        except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError) as error:
            raise ValueError(f"{value!r} is no IANA time zone, as Europe/Vienna or America/Denver") from error
        return value


class StoreConfig(Strict):
    directory: Path | None = Field(
        None, description="Where readings are kept; unset puts them beside your other state."
    )
    commit_every_s: float = Field(
        0.0,
        ge=0.0,
        le=300.0,
        description="Seconds to gather before a commit, to spare an SD card: a power cut may then cost as long, "
        "readings are shown and judged as late, and a dead watcher is noticed after two and a half times as long.",
    )


class PlugInConfig(BaseModel):
    """A table of which some keys are a plug-in's own."""

    model_config = ConfigDict(extra="allow", frozen=True)

    @property
    def own_keys(self) -> dict[str, Any]:
        return dict(self.model_extra or {})


class SourceConfig(PlugInConfig):
    """A wire to listen on. Keys beside these two are the driver's own."""

    name: Slug = Field(description="Your name for it.")
    driver: str = Field(description="What speaks on it: serial-line, mqtt, or an installed driver's name.")


class ControllerConfig(Strict):
    """A temperature controller that fermwatch may do more with than read it."""

    source: Slug = Field(description="The name of the source that it is read by, which is its own name too.")
    vessel: Slug = Field(description="The id of the fermenter whose temperature it regulates.")
    degree: Degree = Field(
        Degree.OBSERVE,
        description="How far a person may let fermwatch go: observe, set (its set point), or drive (its outputs).",
    )
    low_c: float | None = Field(None, ge=-2.0, le=40.0, description="The coldest that the beer is ever to be, °C.")
    high_c: float | None = Field(None, ge=-2.0, le=40.0, description="The warmest that the beer is ever to be, °C.")

    @model_validator(mode="after")
    def _limited(self) -> "ControllerConfig":
        if self.degree is not Degree.OBSERVE and (self.low_c is None or self.high_c is None):
            raise misplaced("is missing: nothing is written without both limits", "low_c")
        if self.low_c is not None and self.high_c is not None and self.low_c >= self.high_c:
            raise misplaced("is not below high_c", "low_c")
        return self


class VesselConfig(Strict):
    id: Slug = Field(description="A short name kept for ever: renaming the fermenter keeps its history.")
    name: Name = Field(description="What you call it.")
    volume_l: float = Field(gt=0.0, le=1000.0, description="What it holds to the brim, litres.")
    rules: dict[str, float] = Field({}, description="Rule settings for this fermenter alone.")

    @field_validator("rules")
    @classmethod
    def _settings(cls, value: dict[str, float]) -> dict[str, float]:
        return known_settings(value)

    def vessel(self, site_rules: Mapping[str, float], altitude_m: float = 0.0) -> Vessel:
        return Vessel(self.id, self.name, self.volume_l, {**site_rules, **self.rules}, altitude_m)


class ProbeConfig(Strict):
    id: Slug = Field(description="A short name kept for ever.")
    vessel: Slug | None = Field(None, description="The id of the fermenter it sits on; a bottle store's has none.")
    quantity: Quantity = Field(description="What it measures. A probe hanging in air is air-temperature, never beer.")
    source: Slug = Field(description="The name of the source that it speaks through.")
    channel: str = Field(
        min_length=1, max_length=200, description="The driver's name for it: a field, column or topic."
    )
    unit: Unit | None = Field(None, description="The unit it speaks in, where it does not say so itself.")
    every_s: float = Field(60.0, gt=0.0, le=86400.0, description="How often it is meant to speak, seconds.")
    silent_after_s: float | None = Field(
        None, gt=0.0, le=2_592_000.0, description="Silent after so long; unset: five times every_s."
    )
    offset: float = Field(0.0, description="Added to each reading, in the canonical unit (°C, SG).")
    points: tuple[Point, Point] | None = Field(None, description="Two [read, true] pairs, instead of offset.")
    placement: str = Field("", max_length=40, description="Where it sits: thermowell, taped and insulated, in air.")

    @field_validator("unit", mode="before")
    @classmethod
    def _measures(cls, value: object, known: ValidationInfo) -> object:
        quantity = known.data.get("quantity")
        if quantity is None or not isinstance(value, str) or value in units_known_of(quantity):
            return value
        units = units_known_of(quantity)
        said = value.strip().strip("°").casefold()
        meant = next((one for one in units if said in {one.strip("°").casefold(), one.name.casefold()}), None)
        remedy = f"did you mean {meant}?" if meant else f"use one of {', '.join(units)}"
        raise misplaced(f"{clean(value, 20)} is no unit of {quantity}; {remedy}")

    @model_validator(mode="after")
    def _fits(self) -> "ProbeConfig":
        in_store = self.quantity is Quantity.STORE_TEMPERATURE
        if self.vessel is None and not in_store:
            raise misplaced("is missing: the id of the fermenter it sits on", "vessel")
        if self.vessel is not None and in_store:
            raise misplaced("a bottle store is no fermenter: leave it out", "vessel")
        if self.points is not None and self.offset:
            raise misplaced("give either points or offset, not both", "points")
        if self.points is not None and self.points[0][0] == self.points[1][0]:
            raise misplaced("the two readings must differ", "points")
        return self

    def probe(self) -> Probe:
        calibration = Calibration(offset=self.offset)
        if self.points is not None:
            calibration = Calibration.from_points(*self.points)
        return Probe(
            slug=self.id,
            vessel=self.vessel or NOWHERE,
            quantity=self.quantity,
            source=self.source,
            channel=self.channel,
            unit=self.unit or CANONICAL_UNIT[self.quantity],
            every_s=self.every_s,
            silent_after_s=self.silent_after_s or max(5 * self.every_s, 120.0),
            calibration=calibration,
            placement=self.placement,
        )


class NotifyConfig(PlugInConfig):
    """A way to people. Keys beside these two are the notifier's own."""

    name: Slug = Field(description="Your name for it, as phone or mail.")
    by: str = Field(description="What carries it: command, mqtt, apprise, or an installed notifier's name.")


class TellingConfig(Strict):
    """When people are told, and in what units."""

    quiet_from: time = Field(time(22), description="When the night begins, by the site's clock: 22:00.")
    quiet_until: time = Field(time(7), description="When it ends; what is grave is told at any hour.")
    digest_at: time = Field(time(8), description="When the small things of a day are told, in one message.")
    test_every_days: float = Field(
        7.0,
        ge=0.0,
        le=365.0,
        description="A way that was silent for so long is tested, in the digest; 0: never.",
    )
    units: str = Field("", description="What numbers are told in, as `fermwatch units` takes them: us, plato.")

    @field_validator("units")
    @classmethod
    def _known(cls, value: str) -> str:
        try:
            units_of(value, what="units")
        except InputError as error:
            raise ValueError(str(error)) from None
        return value


class AliveConfig(BaseModel):
    """A sign of life, for somebody else's alarm. Keys beside these two are the notifier's own."""

    model_config = ConfigDict(extra="allow", frozen=True)

    by: str = Field(description="What carries it: http, mqtt, command, or an installed notifier's name.")
    every_s: float = Field(300.0, ge=10.0, le=86_400.0, description="How often it is given, seconds.")

    @property
    def said(self) -> NotifyConfig:
        return NotifyConfig.model_validate({"name": "alive", "by": self.by, **(self.model_extra or {})})


class PublishConfig(PlugInConfig):
    """Where `fermwatch publish` keeps what is told of the site. Keys beside these are the publisher's own."""

    by: str = Field("mqtt", description="What carries it: mqtt, or an installed publisher's name.")
    prefix: TopicPrefix = Field("fermwatch", description="What all topics begin with, before the site's name.")
    discovery: TopicPrefix | None = Field(
        None, description="Where a home automation looks for sensors, by the convention of MQTT discovery; unset: none."
    )
    every_s: float = Field(10.0, ge=1.0, le=3600.0, description="How often it is looked at, seconds.")


class MetricsConfig(Strict):
    """What `fermwatch metrics` serves on this machine alone."""

    port: int | None = Field(None, ge=1024, le=65535, description="Where it listens; unset, nowhere.")


class Config(Strict):
    """The whole configuration."""

    site: SiteConfig = Field(SiteConfig(), description="The place.")
    store: StoreConfig = Field(StoreConfig(), description="Where readings are kept.")
    rules: dict[str, float] = Field({}, description="Rule settings for every fermenter.")
    source: tuple[SourceConfig, ...] = Field((), description="The wires to listen on.")
    controller: tuple[ControllerConfig, ...] = Field((), description="The controllers, of sources that can be asked.")
    vessel: tuple[VesselConfig, ...] = Field((), description="The fermenters.")
    telling: TellingConfig = Field(TellingConfig(), description="When people are told.")
    notify: tuple[NotifyConfig, ...] = Field((), description="The ways to people.")
    metrics: MetricsConfig = Field(MetricsConfig(), description="Numbers for other programs of this machine.")
    publish: PublishConfig | None = Field(None, description="What is told of the site on a broker.")
    alive: AliveConfig | None = Field(None, description="The watcher's sign of life.")
    probe: tuple[ProbeConfig, ...] = Field((), description="What is measured, where, and through which source.")

    @field_validator("rules")
    @classmethod
    def _settings(cls, value: dict[str, float]) -> dict[str, float]:
        return known_settings(value)

    @model_validator(mode="after")
    def _consistent(self) -> "Config":
        sources = [source.name for source in self.source]
        vessels = [vessel.id for vessel in self.vessel]
        for table, key, ids in (
            ("source", "name", sources),
            ("vessel", "id", vessels),
            ("controller", "source", [one.source for one in self.controller]),
            ("controller", "vessel", [one.vessel for one in self.controller]),
            ("notify", "name", [one.name for one in self.notify]),
            ("probe", "id", [probe.id for probe in self.probe]),
        ):
            twice = next((index for index, name in enumerate(ids) if name in ids[:index]), None)
            if twice is not None:
                raise misplaced(f"the {table} {key} {ids[twice]!r} is given twice", table, twice, key)
        named = [("controller", index, one.source, one.vessel, one.source) for index, one in enumerate(self.controller)]
        named += [("probe", index, one.id, one.vessel or "", one.source) for index, one in enumerate(self.probe)]
        for table, index, own, vessel, source in named:
            for what, name, known in (("vessel", vessel, vessels), ("source", source, sources)):
                if name and name not in known:
                    listed = ", ".join(known) or "none is configured"
                    message = f"{table} {own!r} names the {what} {name!r}, which is not there ({listed})"
                    raise misplaced(message, table, index, what)
        return self

    def rule_settings(self, vessel: str | None = None) -> RuleSettings:
        own = next((one.rules for one in self.vessel if one.id == vessel), {})
        return RuleSettings(**{**self.rules, **own})


def known_settings(value: dict[str, float]) -> dict[str, float]:
    """The same, where every name is one of the rules' settings. ValueError names the first that is not."""
    if wrong := wrong_setting(value):
        raise misplaced(wrong.why, wrong.name)
    return value
