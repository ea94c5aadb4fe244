"""Reads what a replay is fed with: a log of readings in order of arrival (CSV) and the batch it belongs to (TOML)."""

import csv
import itertools
import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from fermwatch.brewing.generic_yeasts import generic_yeast
from fermwatch.config.lines import Location, dotted, line_of
from fermwatch.errors import ConfigError, InputError
from fermwatch.model import event_data
from fermwatch.model.batch import Batch, Event, EventKind, GravityOrigin, KegWay, PackageChoice
from fermwatch.model.yeast import Yeast
from fermwatch.plain_data import Malformed
from fermwatch.science.packages import package_named, pressure_limit_bar_gauge

COLUMNS = ["time", "probe", "quantity", "value"]
TEMPERATURE, GRAVITY = "temperature_C", "gravity_SG"
FIRST_YEAR, LAST_YEAR = 1970, 2199
BOTTOM_FERMENTING_BELOW_C = 15.5  # the upper end of a range that only bottom-fermenting yeast has (common practice)


FORMATS = """\
LOG.csv, in order of arrival, with these columns and quantities; a probe named `hydrometer` is a reading by hand,
corrected to 20 °C:

  time,probe,quantity,value
  2026-03-01T18:05:00Z,T1,temperature_C,19.4
  2026-03-01T18:15:00Z,G1,gravity_SG,1.0521
  2026-03-09T18:00:00Z,hydrometer,gravity_SG,1.0125

BATCH.toml; og_sg, pitched_at and yeast are needed:

  name = "Harvest Ale"
  og_sg = 1.052
  original_origin = "measured"       # or "topped-up", "recipe"
  pitched_at = 2026-03-01T18:00:00Z
  volume_l = 19.0
  yeast = "clean-ale"                # see `fermwatch batch yeasts`; or its figures, as [yeast]:
  # [yeast]
  # temperature_c = [17.0, 21.0]
  # attenuation = [0.72, 0.78]
  # also: kind, name, lag_max_h, alcohol_tolerance_abv, diastatic, bottom_fermenting, maltose_negative
  [extract_adjuncts_g_per_l]         # sugar of the recipe that is no malt
  lactose = 10
  [package]                          # without it the verdict is at most "confirm"
  kind = "returnable-glass"
  volumes = 2.4
  storage_c = 25.0                   # also: conditioning_c, accident_c, limit_bar; of a keg way = "forced" or "primed"
  [[event]]                          # any number of them
  at = 2026-03-09T10:00:00Z
  kind = "forced-ferment"
  gravity_sg = 1.012                 # as the kind needs: grams, name, volume_l, target_c, passed

Kinds of event: dry-hop, sugar, fruit, transfer, split, blend, forced-ferment, rest, ramp, crash, back-to-range,
plan, packaged, diacetyl-test, observation, note.
"""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a log. File order is the order of arrival."""

    at: datetime
    probe: str
    quantity: str
    value: float


def read_log(path: Path) -> Iterator[Row]:
    """Yield the rows of a log.

    Raises:
        InputError: naming the file, the line and the remedy.
    """
    try:
        with path.open(encoding="utf-8", newline="") as file:
            lines = csv.reader(file)
            header = next(lines, None)
            if header is None or [name.strip() for name in header] != COLUMNS:
                raise InputError(f"{path}:1: this is no log.", hint=f"Its first line must be {','.join(COLUMNS)}.")
            for fields in lines:
                if fields:
                    yield _row(path, lines.line_num, fields)
    except OSError as error:
        raise InputError(f"{path}: {error.strerror}.", hint="Name a log that can be read.") from error
    except (UnicodeDecodeError, csv.Error) as error:
        raise InputError(
            f"{path}: this is no text in UTF-8 ({error}).", hint="Export the log as CSV, UTF-8."
        ) from error


def _is_meant(at: datetime) -> bool:
    """Whether anybody watched beer then; beyond lie instants that no calendar can move to another zone."""
    return FIRST_YEAR <= at.year <= LAST_YEAR


def _row(path: Path, line: int, fields: list[str]) -> Row:
    place = f"{path}:{line}:"
    if len(fields) != len(COLUMNS):
        raise InputError(f"{place} {len(fields)} fields.", hint=f"A row has {','.join(COLUMNS)}.")
    time, probe, quantity, value = (field.strip() for field in fields)
    if quantity not in {TEMPERATURE, GRAVITY}:
        raise InputError(f"{place} quantity {quantity!r}.", hint=f"Known are {TEMPERATURE} and {GRAVITY}.")
    try:
        at = datetime.fromisoformat(time)
    except ValueError:
        raise InputError(f"{place} time {time!r}.", hint="Write ISO 8601 in UTC, as 2026-03-01T18:00:00Z.") from None
    if at.tzinfo is None:
        raise InputError(f"{place} time {time!r} has no zone.", hint="Write UTC with a Z at its end.")
    if not _is_meant(at):
        raise InputError(f"{place} time {time!r} cannot be meant.", hint=f"It is from {FIRST_YEAR} to {LAST_YEAR}.")
    try:
        number = float(value)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise InputError(
            f"{place} value {value!r} is no number.", hint="Write it with a decimal point, or drop the row."
        )
    return Row(at.astimezone(UTC), probe, quantity, number)


def read_batch(path: Path) -> tuple[Batch, tuple[Event, ...]]:
    """Return the batch and its events, in time order.

    Raises:
        ConfigError: naming the file, the key and the remedy.
    """
    try:
        text = path.read_text(encoding="utf-8")
        table = tomllib.loads(text)
    except OSError as error:
        raise ConfigError(f"{error.strerror}.", file=path, hint="Name a batch file that can be read.") from error
    except (ValueError, RecursionError) as error:
        raise ConfigError(f"this is no TOML: {error}.", file=path, hint="Mend that line.") from error
    return _Table(_File(path, text), table).batch()


@dataclass(frozen=True, slots=True)
class _File:
    path: Path
    text: str


class _Table:
    """A TOML table that knows where it stands, for errors that name the place."""

    def __init__(self, file: _File, values: Mapping[str, Any], place: Location = ()) -> None:
        self._file, self._values, self._place = file, values, place

    def refuse(self, key: str, message: str, hint: str) -> ConfigError:
        place = (*self._place, key)
        line = line_of(self._file.text, place)
        return ConfigError(message, file=self._file.path, line=line, key=dotted(place), hint=hint)

    def number(self, key: str, default: float | None = None, *, low: float, high: float) -> float:
        value = self._values.get(key, default)
        if value is None:
            raise self.refuse(key, "is missing.", f"Give a number from {low:g} to {high:g}.")
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
            raise self.refuse(key, f"{value!r} cannot be meant so.", f"Give a number from {low:g} to {high:g}.")
        return float(value)

    def pair(self, key: str, *, low: float, high: float) -> tuple[float, float]:
        value = self._values.get(key)
        if isinstance(value, list) and len(value) == 2:
            bounds = _Table(self._file, {"low": value[0], "high": value[1]}, (*self._place, key))
            lower, upper = bounds.number("low", low=low, high=high), bounds.number("high", low=low, high=high)
            if lower <= upper:
                return lower, upper
        raise self.refuse(key, f"{value!r} is no range.", f"Give [lowest, highest], both from {low:g} to {high:g}.")

    def text(self, key: str, default: str | None = None) -> str:
        value = self._values.get(key, default)
        if not isinstance(value, str):
            raise self.refuse(key, "is missing." if value is None else f"{value!r} is no text.", "Give it in quotes.")
        return value

    def flag(self, key: str, *, default: bool) -> bool:
        value = self._values.get(key, default)
        if not isinstance(value, bool):
            raise self.refuse(key, f"{value!r} is neither true nor false.", "Write true or false.")
        return value

    def instant(self, key: str) -> datetime:
        value = self._values.get(key)
        if not isinstance(value, datetime) or value.tzinfo is None:
            raise self.refuse(key, f"{value!r} is no instant.", "Write it as 2026-03-01T18:00:00Z, without quotes.")
        if not _is_meant(value):
            raise self.refuse(key, f"{value} cannot be meant.", f"It is from {FIRST_YEAR} to {LAST_YEAR}.")
        return value.astimezone(UTC)

    def table(self, key: str) -> "_Table":
        value = self._values.get(key, {})
        if not isinstance(value, dict):
            raise self.refuse(key, "is no table.", f"Write it under [{key}].")
        return _Table(self._file, value, (*self._place, key))

    def tables(self, key: str) -> list["_Table"]:
        value = self._values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value):
            raise self.refuse(key, "is no list of tables.", f"Write each under [[{key}]].")
        return [_Table(self._file, entry, (*self._place, key, place)) for place, entry in enumerate(value)]

    def batch(self) -> tuple[Batch, tuple[Event, ...]]:
        name = self.text("name", self._file.path.stem)
        origin = self.text("original_origin", GravityOrigin.MEASURED)
        if origin not in list(GravityOrigin):
            raise self.refuse("original_origin", f"{origin!r} is not known.", f"Known: {', '.join(GravityOrigin)}.")
        adjuncts = self.table("extract_adjuncts_g_per_l")
        batch = Batch(
            id=name,
            name=name,
            vessel="replay",
            original_sg=self.number("og_sg", low=1.005, high=1.2),
            pitched_at=self.instant("pitched_at"),
            volume_l=self.number("volume_l", 20.0, low=0.1, high=1e6),
            yeast=self.yeast_said(),
            original_origin=GravityOrigin(origin),
            package=self.table("package").package() if "package" in self._values else None,
            extract_adjuncts_g_per_l={key: adjuncts.number(key, low=0.0, high=500.0) for key in adjuncts.names()},
        )
        events = [entry.event(place) for place, entry in zip(itertools.count(1), self.tables("event"), strict=False)]
        return batch, tuple(sorted(events, key=lambda event: event.at))

    def names(self) -> list[str]:
        return list(self._values)

    def yeast_said(self) -> Yeast:
        """By its figures in a table, or as a kind of the catalogue by its name alone."""
        kind = self._values.get("yeast")
        if not isinstance(kind, str):
            return self.table("yeast").yeast()
        try:
            return generic_yeast(kind)
        except InputError as error:
            raise self.refuse("yeast", error.message, error.hint) from None

    def yeast(self) -> Yeast:
        low_c, high_c = self.pair("temperature_c", low=-1.0, high=45.0)
        least, most = self.pair("attenuation", low=0.0, high=1.0)
        kind = self.text("kind", "lager" if high_c <= BOTTOM_FERMENTING_BELOW_C else "ale")
        return Yeast(
            kind=kind,
            name=self.text("name", kind),
            temperature_low_c=low_c,
            temperature_high_c=high_c,
            attenuation_low=least,
            attenuation_high=most,
            lag_max_h=self.number("lag_max_h", 36.0, low=1.0, high=400.0),
            alcohol_tolerance_abv=self.number("alcohol_tolerance_abv", 10.0, low=1.0, high=30.0),
            diastatic=self.flag("diastatic", default=False),
            bottom_fermenting=self.flag("bottom_fermenting", default=high_c <= BOTTOM_FERMENTING_BELOW_C),
            maltose_negative=self.flag("maltose_negative", default=False),
        )

    def package(self) -> PackageChoice:
        limit = self.number("limit_bar", low=0.5, high=12.0) if "limit_bar" in self._values else None
        conditioning = self.number("conditioning_c", low=-2.0, high=40.0) if "conditioning_c" in self._values else None
        way = self.text("way", "")
        if way and way not in list(KegWay):
            raise self.refuse("way", f"{way!r} is not known.", f"Known: {', '.join(KegWay)}.")
        kind = self.text("kind")
        try:
            pressure_limit_bar_gauge(package_named(kind), limit)
        except InputError as error:
            raise self.refuse("kind" if limit is None else "limit_bar", error.message, error.hint) from None
        return PackageChoice(
            kind,
            self.number("volumes", low=0.0, high=6.0),
            self.number("storage_c", 30.0, low=-2.0, high=40.0),
            limit,
            conditioning,
            self.number("accident_c", 25.0, low=-2.0, high=40.0),
            KegWay(way) if way else None,
        )

    def event(self, place: int) -> Event:
        kind = self.text("kind")
        if kind not in list(EventKind):
            raise self.refuse("kind", f"{kind!r} is not known.", f"Known: {', '.join(EventKind)}.")
        said = {key: value for key, value in self._values.items() if key not in {"at", "kind", "text"}}
        at, text = self.instant("at"), self.text("text", "")
        for key, value in said.items():
            if isinstance(value, datetime) and value.tzinfo is not None:
                self.instant(key)
        try:
            data = event_data.read(EventKind(kind), said)
        except Malformed as error:
            known = ", ".join(event_data.keys_of(EventKind(kind))) or "its text alone"
            hint = f"A {kind} may say {known}; units are in the names."
            raise self.refuse(error.place, f"{error.why}.", hint) from None
        return Event(f"event-{place}", at, EventKind(kind), data, text)
