"""Whether what is asked can be meant: identities, times, ranges. RequestRefused says in a sentence what cannot."""

import re
from dataclasses import replace
from datetime import datetime, timedelta

from fermwatch.errors import InputError, RequestRefused
from fermwatch.model import event_data
from fermwatch.model.batch import LEAST_SD_POINTS, Batch, Event, GravityMeasurement, PackageChoice
from fermwatch.model.plan import LONGEST
from fermwatch.model.rule_settings import wrong_setting
from fermwatch.model.yeast import Yeast
from fermwatch.plain_data import Malformed
from fermwatch.science.packages import package_named, pressure_limit_bar_gauge
from fermwatch.text import clean

MOST_SAID = 3_000  # of one beer: one an hour for four months
_AHEAD = timedelta(hours=1)  # clocks of one machine agree; this forgives a rounded time
_FURTHEST = timedelta(days=366)  # that anybody plans a temperature ahead
_LONGEST_AGO = timedelta(days=2 * 366)
_ID = re.compile(r"[A-Za-z0-9_-]{1,64}")
_SUBJECT = re.compile(r"[a-z]{1,20}:[A-Za-z0-9_.-]{1,64}")
_RULE = re.compile(r"[a-z0-9-]{1,64}")


def check_batch(batch: Batch, now: datetime) -> None:
    _check_id(batch.id)
    _check_past(batch.pitched_at, now, "pitched_at")
    if not batch.name.strip():
        raise RequestRefused("The batch needs a name.")
    _check_range("original_sg", batch.original_sg, 1.001, 1.200)
    _check_range("volume_l", batch.volume_l, 0.1, 10_000)
    if batch.fermenter_volume_l is not None:
        _check_range("fermenter_volume_l", batch.fermenter_volume_l, 0.1, 10_000)
    for name, grams in batch.extract_adjuncts_g_per_l.items():
        _check_range(f"extract_adjuncts_g_per_l.{name}", grams, 0, 400)
    _check_yeast(batch.yeast)
    if wrong := wrong_setting(batch.rule_settings):
        raise RequestRefused(f"rule_settings.{wrong.name:.60}: {wrong.why}")
    if batch.package is not None:
        _check_package(batch.package)


def check_pitched_lately(batch: Batch, now: datetime) -> None:
    """A slip in the year of a beer that is there now would have decades judged."""
    if batch.pitched_at < now - _LONGEST_AGO:
        raise RequestRefused(f"pitched_at: {batch.pitched_at:%Y-%m-%d} is more than two years ago.")


def check_measurement(measurement: GravityMeasurement, now: datetime) -> None:
    _check_id(measurement.id)
    _check_past(measurement.at, now, "at")
    _check_range("sd_points", measurement.sd_points, LEAST_SD_POINTS, 50)
    if measurement.voided:
        raise RequestRefused("A measurement cannot arrive voided: void it afterwards.")


def checked_event(event: Event, now: datetime) -> Event:
    """The event with its data as its kind needs it."""
    _check_id(event.id)
    _check_past(event.at, now, "at")
    if event.voided:
        raise RequestRefused("An event cannot arrive voided: void it afterwards.")
    try:
        checked = replace(event, data=event_data.read(event.kind, event.data))
    except Malformed as error:
        raise RequestRefused(f"{event.kind}: {clean(str(error), 200)}.") from None
    if (begun := checked.data.get("begun")) is not None and not (
        timedelta() <= event.at - datetime.fromisoformat(str(begun)) <= LONGEST
    ):
        raise RequestRefused(f"{event.kind}: begun: no step begins after it is told, or more than a year before.")
    for key in ("by", "until"):
        if (ends := checked.data.get(key)) is not None:
            _check_end(datetime.fromisoformat(str(ends)), event.at, f"{event.kind}: {key}")
    return checked


def check_alarm_name(rule: str, subject: str) -> None:
    if not _RULE.fullmatch(rule) or not _SUBJECT.fullmatch(subject):
        raise RequestRefused(f"No alarm can be called {rule} of {subject}.")


def _check_id(identity: str) -> None:
    if not _ID.fullmatch(identity):
        raise RequestRefused(f"{identity!r:.70} is no identity: letters and digits, at most 64.")


def _check_past(at: datetime, now: datetime, key: str) -> None:
    if at > now + _AHEAD:
        raise RequestRefused(f"{key}: {at:%Y-%m-%d %H:%M} UTC is in the future.")
    if at.year < 2000:
        raise RequestRefused(f"{key}: {at:%Y-%m-%d} is too long ago to be meant.")


def check_room(said: int, batch: Batch) -> None:
    """Judging reads all that was said of a beer: nobody's flood may make that slow for others."""
    if said >= MOST_SAID:
        raise RequestRefused(f"{batch.name} has {said} measurements and notes, the most that one beer can have.")


def _check_end(ends: datetime, begun: datetime, key: str) -> None:
    if ends < begun:
        raise RequestRefused(f"{key}: {ends:%Y-%m-%d %H:%M} UTC is before it began.")
    if ends > begun + _FURTHEST:
        raise RequestRefused(f"{key}: {ends:%Y-%m-%d} is more than a year after it began.")


def _check_range(key: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        raise RequestRefused(f"{key}: {value:g} is outside {low:g} to {high:g}.")


def _check_yeast(yeast: Yeast) -> None:
    _check_range("yeast.temperature_low_c", yeast.temperature_low_c, -5, 50)
    _check_range("yeast.temperature_high_c", yeast.temperature_high_c, yeast.temperature_low_c, 50)
    _check_range("yeast.attenuation_low", yeast.attenuation_low, 0, 1.2)
    _check_range("yeast.attenuation_high", yeast.attenuation_high, yeast.attenuation_low, 1.2)
    _check_range("yeast.lag_max_h", yeast.lag_max_h, 0, 24 * 30)
    _check_range("yeast.alcohol_tolerance_abv", yeast.alcohol_tolerance_abv, 0, 30)


def _check_package(package: PackageChoice) -> None:
    try:
        pressure_limit_bar_gauge(package_named(package.kind))
    except InputError as error:
        raise RequestRefused(f"package.kind: {error.message}", hint=error.hint) from None
    _check_range("package.volumes", package.volumes, 0, 10)
    for key in ("storage_c", "conditioning_c", "accident_c"):
        celsius = getattr(package, key)
        if celsius is not None:
            _check_range(f"package.{key}", celsius, -5, 60)
    if package.limit_bar is not None:
        _check_range("package.limit_bar", package.limit_bar, 0, 100)
