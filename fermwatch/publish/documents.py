"""The site as documents that stand on a broker: one JSON object a fermenter, and what a home automation needs to find
each number in it as a sensor of its own. Pure: a picture in, topics and texts out.

A number stands there only while it is of now: of a probe that fell silent it is null, and where nobody watches the
availability says so. Nothing there can be asked, set or switched.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

import fermwatch
from fermwatch.contracts.feed import Freshness, Lane, Snapshot
from fermwatch.contracts.publisher import Shelf
from fermwatch.model.amounts import plain
from fermwatch.model.finding import Alarm, Phase, Severity, VerdictKind
from fermwatch.model.quantity import Quantity
from fermwatch.saying.facts import band
from fermwatch.saying.measured import newest
from fermwatch.text import clean

SCHEMA = 1
THERE, GONE = "online", "offline"
NO_ALARM = "none"
LONGEST = 200  # characters of a sentence


@dataclass(frozen=True, slots=True)
class Topics:
    """Where documents of one site stand. discovery: what a home automation looks below; None where none does."""

    site: str
    prefix: str
    discovery: str | None = None

    @property
    def root(self) -> str:
        return f"{self.prefix}/{self.site}"

    @property
    def availability(self) -> str:
        return f"{self.root}/availability"

    def fermenter(self, slug: str) -> str:
        return f"{self.root}/fermenter/{slug}"

    def sensor(self, slug: str, key: str) -> str:
        return f"{self.discovery}/sensor/fermwatch-{self.site}/{slug}-{key}/config"

    @property
    def shelf(self) -> Shelf:
        ours = [self.availability, self.fermenter("+")]
        if self.discovery is not None:
            ours.append(f"{self.discovery}/sensor/fermwatch-{self.site}/+/config")
        return Shelf(tuple(ours), self.availability, GONE)


@dataclass(frozen=True, slots=True)
class Announced:
    """One number or word of a fermenter's document. kind, unit: as the convention of discovery has them, if at all.

    of: what measures it, where it is there only with a probe. options: the words that it may be.
    """

    key: str
    name: str
    kind: str = ""
    unit: str = ""
    digits: int | None = None
    of: Quantity | None = None
    options: tuple[str, ...] = ()

    def config(self, lane: Lane, topics: Topics) -> str:
        slug = lane.vessel.slug
        said: dict[str, object] = {
            "name": self.name,
            "unique_id": f"fermwatch-{topics.site}-{slug}-{self.key}",
            "state_topic": topics.fermenter(slug),
            "value_template": f"{{{{ value_json.{self.key} }}}}",
            "availability_topic": topics.availability,
            "payload_available": THERE,
            "payload_not_available": GONE,
            "device": {
                "identifiers": [f"fermwatch-{topics.site}-{slug}"],
                "name": clean(lane.vessel.name, LONGEST),
                "model": "fermenter",
                "sw_version": fermwatch.__version__,
            },
            "origin": {"name": "fermwatch", "sw_version": fermwatch.__version__},
        }
        if self.kind:
            said["device_class"] = self.kind
        if self.unit:
            said |= {"unit_of_measurement": self.unit, "state_class": "measurement"}
        if self.digits is not None:
            said["suggested_display_precision"] = self.digits
        if self.options:
            said["options"] = list(self.options)
        return _text(said)


SENSORS = (
    Announced("beer_temperature_c", "Beer temperature", "temperature", "°C", 1, Quantity.BEER_TEMPERATURE),
    Announced("air_temperature_c", "Air temperature", "temperature", "°C", 1, Quantity.AIR_TEMPERATURE),
    Announced("gravity_sg", "Gravity", "", "SG", 4, Quantity.GRAVITY),
    Announced("attenuation_percent", "Apparent attenuation", "", "%", 0),
    Announced("phase", "Phase", "enum", options=tuple(one.value for one in Phase)),
    Announced("verdict", "Bottling", "enum", options=tuple(one.value for one in VerdictKind)),
    Announced("forecast_gravity_sg", "Expected end gravity", "", "SG", 4),
    Announced("forecast_done_at", "Expected end", "timestamp"),
    Announced("alarm", "Alarm", "enum", options=(NO_ALARM, *(one.value for one in Severity))),
)


def documents(snapshot: Snapshot, topics: Topics) -> Mapping[str, str]:
    """Topics with what stands there, all of it; that it is there comes last."""
    found: dict[str, str] = {}
    for lane in snapshot.lanes:
        found[topics.fermenter(lane.vessel.slug)] = _text(_fermenter(lane, snapshot.now))
        if topics.discovery is not None:
            for sensor in SENSORS:
                if sensor.of is None or any(one.probe.quantity is sensor.of for one in lane.probes):
                    found[topics.sensor(lane.vessel.slug, sensor.key)] = sensor.config(lane, topics)
    found[topics.availability] = THERE if snapshot.watched else GONE
    return found


def unwatched(before: Mapping[str, str], topics: Topics) -> Mapping[str, str]:
    """The same where the store cannot be read: what is not known to hold is not there."""
    return {**before, topics.availability: GONE}


def _fermenter(lane: Lane, now: datetime) -> Mapping[str, object]:
    batch, judged, meant = lane.batch, lane.judgement, band(lane, now)
    trend, phase, forecast, verdict = (
        (None, None, None, None) if judged is None else (judged.trend, judged.phase, judged.forecast, judged.verdict)
    )
    alarms = [one for one in lane.alarms if one.stands and not one.is_quiet and not one.told_by]
    return {
        "schema": SCHEMA,
        "fermenter": lane.vessel.slug,
        "name": clean(lane.vessel.name, LONGEST),
        "batch": None if batch is None else batch.id,
        "beer": None if batch is None else clean(batch.name, LONGEST),
        "pitched_at": None if batch is None else _time(batch.pitched_at),
        "beer_temperature_c": _live(lane, Quantity.BEER_TEMPERATURE, 2),
        "air_temperature_c": _live(lane, Quantity.AIR_TEMPERATURE, 2),
        "gravity_sg": _live(lane, Quantity.GRAVITY, 4),
        "range_low_c": None if meant is None else round(meant.low_c, 2),
        "range_high_c": None if meant is None else round(meant.high_c, 2),
        "attenuation_percent": None if trend is None else round(100.0 * trend.apparent_attenuation, 1),
        "phase": None if phase is None else phase.phase.value,
        "verdict": None if verdict is None else verdict.kind.value,
        "forecast_gravity_sg": None if forecast is None else round(forecast.terminal_sg, 4),
        "forecast_done_at": None if forecast is None else _time(forecast.done_at),
        "alarm": max((one.severity for one in alarms), key=lambda severity: severity.rank, default=NO_ALARM),
        "alarms": list(_alarms(alarms)),
    }


def _alarms(alarms: list[Alarm]) -> Iterator[Mapping[str, object]]:
    for one in alarms:
        yield {
            "rule": one.rule,
            "severity": one.severity.value,
            "since": _time(one.since),
            "statement": clean(plain(one.statement), LONGEST),
        }


def _live(lane: Lane, quantity: Quantity, digits: int) -> float | None:
    """None unless it was heard just now and is believed."""
    view = newest(lane.probes, quantity)
    if view is None or view.freshness is not Freshness.LIVE or view.value is None or view.flagged:
        return None
    return round(view.value, digits)


def _time(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat(timespec="seconds")


def _text(said: Mapping[str, object]) -> str:
    return json.dumps(said, ensure_ascii=False, sort_keys=False)
