"""The `--json` format: nouns as JSON data for programs, the same object wherever it stands.

Rules of the format: every document is one object with `schema`; a unit stands in the name of its number (`_c`, `_sg`,
`_l`, `_s`, ...), canonical whatever the reader's; a share is 0 to 1; instants end in `_at` or are called `at`, `since`,
`until`, and are ISO 8601 in UTC; what is not known is null, and no key is ever left out. The names here are the
format's own: a field of a noun that is renamed keeps its key. A key that is added leaves `schema` as it is; one that
goes, or means something else, is a new one. docs/programs.md lists the keys, and a test holds it to them.
"""

from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime
from enum import Enum
from typing import Any, TypeVar

from fermwatch.brewing.attenuation import expected
from fermwatch.contracts.feed import InPackage, Lane, ProbeView, Snapshot
from fermwatch.contracts.kept import Misread
from fermwatch.contracts.store import ControllerStatus, SourceStatus, WatcherStatus
from fermwatch.model.batch import Batch, Event, GravityMeasurement, PackageChoice
from fermwatch.model.event_data import INSTANTS
from fermwatch.model.finding import Alarm, Evidence
from fermwatch.model.intent import Meant
from fermwatch.model.judgement import Forecast, Judgement, PhaseStatement, Trend, Verdict
from fermwatch.model.plan import Until, text_of
from fermwatch.model.quantity import CANONICAL_UNIT, Unit
from fermwatch.model.telling import NotifierStatus, Told
from fermwatch.model.yeast import Yeast
from fermwatch.saying import told_of
from fermwatch.saying.controlled import ControllerFacts
from fermwatch.saying.headline import headline
from fermwatch.saying.health import Health
from fermwatch.saying.in_package import day_number
from fermwatch.saying.planned import Ahead, PlanView
from fermwatch.saying.voice import Voice, zone_of

SCHEMA = 1
DIGITS = 5
UNIT_SUFFIX = {Unit.CELSIUS: "c", Unit.SG: "sg", Unit.BAR: "bar_gauge", Unit.FRACTION: "fraction"}

Object = dict[str, Any]
NounT = TypeVar("NounT")


def document(body: Mapping[str, Any]) -> Object:
    """What a command prints."""
    return {"schema": SCHEMA, **body}


def status(snapshot: Snapshot) -> Object:
    """The whole site at an instant."""
    worst = headline(snapshot, Voice(zone=zone_of(snapshot.timezone)))
    return {
        "site": snapshot.site,
        "timezone": snapshot.timezone,
        "now": _value(snapshot.now),
        "watched": snapshot.watched,
        "headline": {"level": worst.level.value, "matter": worst.matter, "text": worst.text},
        "misread": misreads(snapshot.misread),
        "watcher": _or_null(watcher, snapshot.watcher),
        "sources": [source(one) for one in snapshot.sources],
        "alarms": [alarm(one, snapshot.told) for one in snapshot.alarms],
        "fermenters": [fermenter(lane, snapshot.told) for lane in snapshot.lanes],
        "stores": [probe(view) for view in snapshot.stores],
        "conditioning": [packaged(one, snapshot.now, snapshot.timezone, snapshot.told) for one in snapshot.in_package],
    }


def watcher(one: WatcherStatus) -> Object:
    names = "version started_at beat_at last_commit_at readings_stored duplicates trouble stopped"
    return _picked(one, names)


def source(one: SourceStatus) -> Object:
    return _picked(one, "name driver state detail since readings rejected last_rejection unbound_channels")


def misreads(rows: Iterable[Misread]) -> list[Object]:
    """Rows of the store that are missing in a document, since this program cannot read them."""
    return [{"what": one.what, "identity": one.identity, "why": one.why, "newer_version": one.newer} for one in rows]


def alarm(one: Alarm, told: Iterable[Told]) -> Object:
    """told: by whom of any alarm; of this one's present occurrence it is said."""
    return {
        **_picked(one, "rule subject condition severity stands needs_attention occurrence"),
        **_picked(one, "since raised_at cleared_at acknowledged_at"),
        "acknowledged_by": one.acknowledged_by or None,
        "shelved_until": _value(one.shelved_until),
        "shelved_by": one.shelved_by or None,
        "out_of_service": one.out_of_service,
        "out_of_service_since": _value(one.out_of_service_since),
        "out_of_service_by": one.out_of_service_by or None,
        "suppressed_by": one.suppressed_by or None,
        "told_by": one.told_by or None,
        "told": [a_telling(word) for word in told_of.of_alarm(one, told)],
        **_picked(one, "last_known statement remedy"),
    }


def a_telling(one: Told) -> Object:
    return _picked(one, "notifier rule subject occurrence severity why at times message")


def notifier(one: NotifierStatus, told: Iterable[Told]) -> Object:
    return {
        **_picked(one, "name by since told_at digest_at failing_since"),
        "detail": one.detail or None,
        "waits": one.waits,
        "told": [a_telling(word) for word in told],
    }


def fermenter(lane: Lane, told: Iterable[Told] = ()) -> Object:
    return {
        "vessel": lane.vessel.slug,
        "name": lane.vessel.name,
        "volume_l": lane.vessel.volume_l,
        "batch": _or_null(batch, lane.batch),
        "probes": [probe(view) for view in lane.probes],
        "planned": _or_null(planned, lane.course.meant),
        "regulators": [regulator(one) for one in lane.controllers],
        "alarms": [alarm(one, told) for one in lane.alarms],
        "judgement": _or_null(judgement, lane.judgement),
    }


def probe(view: ProbeView) -> Object:
    """Its last believable value, under a name that tells the unit: value_c, value_sg, ..."""
    suffix = UNIT_SUFFIX[CANONICAL_UNIT[view.probe.quantity]]
    return {
        "probe": view.probe.slug,
        "quantity": view.probe.quantity.value,
        "freshness": view.freshness.value,
        f"value_{suffix}": _value(view.value),
        "at": _value(view.at),
        "age_s": None if view.age_s is None else round(view.age_s, 1),
        "flagged": view.flagged,
    }


def regulator(one: ControllerStatus) -> Object:
    """A controller of a fermenter, and what it does now."""
    return {
        **_picked(one, "name degree target_c set_point_c"),
        "on": None if one.on is None else [output.value for output in one.on],
        "seen_at": _value(one.at),
        "tells": list(one.alarms),
        "trouble": one.trouble or None,
        "waits": one.waits or None,
    }


def health(said: Health) -> Object:
    """What is not well, the gravest first, in words."""
    return {
        "summary": said.headline,
        "troubles": [
            {"text": one.text, "remedy": one.remedy or None, "grave": bool(one.mark)} for one in said.troubles
        ],
    }


def controller(facts: ControllerFacts) -> Object:
    return _picked(facts, "name vessel degree by since at_most low_c high_c set_point_c written_at")


def plan(view: PlanView, ahead: Iterable[Ahead], over_at: datetime | None, now: datetime) -> Object:
    """A plan under way, or one that is looked at; its steps, with when those to come most likely begin."""
    progress, begins = view.progress, {one.number: one.at for one in ahead}
    return {
        "name": progress.plan.name,
        "text": text_of(progress.plan),
        "step": progress.number + 1,
        **_picked(progress, "begun_at held although"),
        "set_point_c": _value(progress.set_point_c(now)),
        "waits_for": [lack.value for lack in view.lacking],
        "over_at": _value(over_at),
        "steps": [
            {**_picked(step, "target_c c_per_day"), **_until(step.until), "begins_at": _value(begins.get(number))}
            for number, step in enumerate(progress.plan.steps, 1)
        ],
    }


def _until(until: Until) -> Object:
    return _picked(until, "way steady tested told days")


def planned(meant: Meant) -> Object:
    """The rest, ramp or crash that is in force."""
    return _picked(meant, "kind begun_at target_c there_by until")


def batch(one: Batch) -> Object:
    low_sg, high_sg = expected(one).ends_sg
    return {
        **_picked(one, "id name vessel original_sg original_origin original_by pitched_at volume_l fermenter_volume_l"),
        "yeast": yeast(one.yeast),
        "expected_terminal_low_sg": _value(low_sg),
        "expected_terminal_high_sg": _value(high_sg),
        "package": _or_null(package, one.package),
        **_picked(one, "extract_adjuncts_g_per_l rule_settings notes packaged_at ended_at version"),
    }


def yeast(one: Yeast) -> Object:
    names = "kind name temperature_low_c temperature_high_c attenuation_low attenuation_high lag_max_h"
    return _picked(one, f"{names} alcohol_tolerance_abv diastatic bottom_fermenting maltose_negative")


def package(one: PackageChoice) -> Object:
    """What a batch is meant for; pressures are gauge."""
    return _picked(one, "kind volumes storage_c limit_bar conditioning_c accident_c way")


def packaged(one: InPackage, now: datetime, timezone: str, told: Iterable[Told] = ()) -> Object:
    """A beer in its package, and the dates to come."""
    known = one.conditioning
    next_at, what = known.next_date(now) or (None, None)
    return {
        "batch": batch(one.batch),
        "package": one.packaging.kind or None,
        "volumes": one.packaging.volumes,
        "packaged_at": _value(one.packaging.at),
        **_picked(one.packaging, "declared_safe left_points chance_over_limit"),
        "day": day_number(one.packaging, now, Voice(zone=zone_of(timezone))),
        "temperature_c": _value(known.temperature_c if known.measured or known.peril is None else None),
        "temperature_measured": known.measured,
        "may_burst": known.peril is not None,
        **_picked(known, "squeeze_at open_at best_from best_until"),
        "next_at": _value(next_at),
        "next": what,
        "alarms": [alarm(each, told) for each in one.alarms],
    }


def measurement(one: GravityMeasurement) -> Object:
    names = "id at gravity_sg instrument sd_points reading unit sample_temperature_c degassed correction voided"
    return _picked(one, names)


def event(one: Event) -> Object:
    """`data` holds what its kind needs, with units in the names."""
    data = {
        key: _value(datetime.fromisoformat(str(value)) if key in INSTANTS else value) for key, value in one.data.items()
    }
    return {**_picked(one, "id at kind"), "data": data, **_picked(one, "text voided")}


def judgement(one: Judgement) -> Object:
    return {
        "at": _value(one.at),
        "trend": _or_null(_trend, one.trend),
        "phase": _or_null(_phase, one.phase),
        "forecast": _or_null(_forecast, one.forecast),
        "verdict": _or_null(_verdict, one.verdict),
    }


def _trend(one: Trend) -> Object:
    return {
        **_picked(one, "at gravity_sg gravity_sd_points rate_points_per_day rate_sd_points_per_day"),
        **_picked(one, "apparent_attenuation estimated measured_sg measured_at"),
        "measured_by": one.measured_by or None,
        **_picked(one, "probe_offset_points probe_offset_sd_points"),
        **_picked(one, "probe_drift_points_per_day probe_drift_sd_points_per_day"),
        **_picked(one, "temperature_share foam_points temperature_c original_sg remark"),
    }


def _phase(one: PhaseStatement) -> Object:
    return {**_picked(one, "phase since reason"), "evidence": [_evidence(each) for each in one.evidence]}


def _forecast(one: Forecast) -> Object:
    return {
        "at": _value(one.at),
        "terminal_sg": _value(one.terminal_sg),
        "terminal_low_sg": _value(one.low_sg),
        "terminal_high_sg": _value(one.high_sg),
        "done_at": _value(one.done_at),
        "done_low_at": _value(one.done_low),
        "done_high_at": _value(one.done_high),
        **_picked(one, "cannot_know basis"),
        "rests_on": one.rests_on or None,
    }


def _verdict(one: Verdict) -> Object:
    return {
        "verdict": one.kind.value,
        **_picked(one, "since sentence reasons"),
        "evidence": [_evidence(each) for each in one.evidence],
        "next_step": one.next_steps or None,
        "next_at": _value(one.next_at),
        "safe_from": _value(one.safe_from),
        "next_reading_at": _value(one.next_reading_at),
        "next_reading_why": one.next_reading_why or None,
    }


def _evidence(one: Evidence) -> Object:
    return _picked(one, "name met statement remedy")


def _or_null(as_object: Callable[[NounT], Object], one: NounT | None) -> Object | None:
    return None if one is None else as_object(one)


def _picked(one: object, names: str) -> Object:
    """These fields under their own names."""
    return {name: _value(getattr(one, name)) for name in names.split()}


def _value(value: object) -> Any:  # noqa: ANN401 - JSON
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, float):
        return round(value, DIGITS) + 0.0
    if isinstance(value, Mapping):
        return {str(key): _value(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_value(item) for item in value]
    return value
