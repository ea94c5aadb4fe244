"""What a store keeps, as flat tables for other programs: columns with their units in their names, rows one by one.

The names are those of `--json` (saying/for_programs.py); what lies within another object there has its name before its
own. Readings are paged, so that years of them need no more memory than a day.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from fermwatch.clock import from_ms
from fermwatch.contracts.store import Reader, StoredProbe
from fermwatch.model.amounts import plain_data
from fermwatch.model.batch import Batch
from fermwatch.model.believable import believable
from fermwatch.model.history import NOWHERE, History, ServedSpan
from fermwatch.model.judgement import Judgement
from fermwatch.model.probe import Calibration
from fermwatch.model.quantity import CANONICAL_UNIT, Quantity
from fermwatch.model.reading import Flag, Reading
from fermwatch.model.subject import About
from fermwatch.saying import for_programs

EVERY_LINE = 1_000_000_000  # of the journal
FIRST, LAST = datetime(1970, 1, 2, tzinfo=UTC), datetime(9000, 1, 1, tzinfo=UTC)  # of what a store keeps

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Scope:
    """What is wanted: of one batch alone, or all; nothing of before `since`."""

    batch: Batch | None = None
    since: datetime = FIRST

    def span(self) -> tuple[datetime, datetime]:
        """Of what was heard: while the batch was in its fermenter."""
        if self.batch is None:
            return self.since, LAST
        return max(self.since, self.batch.pitched_at), self.batch.left_fermenter_at or LAST

    def life(self) -> tuple[datetime, datetime]:
        """Of what was said and happened: until its last bottle."""
        start, _ = self.span()
        return start, LAST if self.batch is None else self.batch.ended_at or LAST


@dataclass(frozen=True, slots=True)
class Table:
    """columns: their names, in order; every row has all of them and no other."""

    name: str
    columns: tuple[str, ...]
    rows: Callable[[Reader, Scope], Iterator[Row]]


def rows_of(table: Table, reader: Reader, scope: Scope) -> Iterator[Row]:
    """Sentences in canonical units, whatever the reader's."""
    rows = table.rows(reader, scope)
    return rows if table.rows is _readings else (_plain(row) for row in rows)


def _plain(row: Row) -> Row:
    return {name: plain_data(value) for name, value in row.items()}


def _batches_of(reader: Reader, scope: Scope) -> tuple[Batch, ...]:
    """Those that were not over by then."""
    if scope.batch is not None:
        return (scope.batch,)
    return tuple(one for one in reader.batches(ended=True) if (one.ended_at or LAST) >= scope.since)


def _batches(reader: Reader, scope: Scope) -> Iterator[Row]:
    for batch in _batches_of(reader, scope):
        whole = for_programs.batch(batch)
        yield _flat(whole, {"yeast": for_programs.yeast(batch.yeast), "package": whole["package"] or {}}, BATCH_COLUMNS)


def _measurements(reader: Reader, scope: Scope) -> Iterator[Row]:
    for batch in _batches_of(reader, scope):
        for one in reader.measurements(batch.id, strict=False):
            if one.at >= scope.since:
                yield {"batch_id": batch.id, "batch": batch.name, **for_programs.measurement(one)}


def _events(reader: Reader, scope: Scope) -> Iterator[Row]:
    for batch in _batches_of(reader, scope):
        for one in reader.events(batch.id, strict=False):
            if one.at >= scope.since:
                yield {"batch_id": batch.id, "batch": batch.name, **for_programs.event(one)}


def _readings(reader: Reader, scope: Scope) -> Iterator[Row]:
    """By probe, then by time; where a probe was and how it was calibrated as of each reading."""
    history = History(reader.bindings())
    for stored in reader.series(every=True):
        for part in _parts(history, stored.series, scope):
            told, suffix = _told(stored, part), _suffix(stored.probe.quantity)
            for page in reader.pages(stored.series, part.start, part.end):
                for one in page:
                    yield _reading(told, suffix, part, one)


def _parts(history: History, series: int, scope: Scope) -> tuple[ServedSpan, ...]:
    start, end = scope.span()
    if scope.batch is not None:
        return tuple(part for part in history.parts(series, start, end) if part.vessel == scope.batch.vessel)
    return history.parts(series, start, end) or (ServedSpan(start, end, NOWHERE, Calibration()),)


def _reading(told: Row, suffix: str, part: ServedSpan, one: Reading) -> Row:
    """told: what all readings of a probe have, in their order; the rest is put in its place."""
    return {
        **told,
        "at": _instant(from_ms(one.at_ms)),
        f"value_{suffix}": round(part.calibration.apply(one.value), for_programs.DIGITS),
        f"uncalibrated_{suffix}": round(one.value, for_programs.DIGITS),
        "believed": believable(one.flags),
        "flags": _flags(one.flags) if one.flags else "",
        "received_after_s": one.lag_ms / 1000,
    }


def _told(stored: StoredProbe, part: ServedSpan) -> Row:
    of_probe = {"probe": stored.probe.slug, "fermenter": part.vessel or None, "quantity": stored.probe.quantity.value}
    return dict.fromkeys(READING_COLUMNS) | of_probe


def _flags(flags: Flag) -> str:
    return " ".join(str(flag.name).lower().replace("_", "-") for flag in Flag(flags))


def _suffix(quantity: Quantity) -> str:
    return for_programs.UNIT_SUFFIX[CANONICAL_UNIT[quantity]]


def _alarms(reader: Reader, scope: Scope) -> Iterator[Row]:
    is_about, (start, _) = _about(reader, scope), scope.life()
    for one in reader.alarms():
        if is_about(one.subject, one.raised_at or one.since or start):
            yield {name: value for name, value in for_programs.alarm(one, ()).items() if name != "told"}


def _journal(reader: Reader, scope: Scope) -> Iterator[Row]:
    is_about = _about(reader, scope)
    for one in reversed(reader.journal(limit=EVERY_LINE)):
        if is_about(one.subject, one.at):
            yield {"at": _instant(one.at), "kind": one.kind, "subject": one.subject, "text": one.text}


def _about(reader: Reader, scope: Scope) -> Callable[[str, datetime], bool]:
    """Whether what is said of a subject at an instant is of the scope: of a batch itself as long as there is some of
    it; of its fermenter while it was there, which has the next beer in it then, and of a probe while both were."""
    batch = scope.batch
    start, end = scope.life()
    if batch is None:
        return lambda _, at: start <= at < end
    spans = {About.BATCH.of(batch.id): [(start, end)], About.FERMENTER.of(batch.vessel): [scope.span()]}
    history = History(reader.bindings())
    for one in reader.series(every=True):
        parts = _parts(history, one.series, scope)
        spans.setdefault(About.PROBE.of(one.probe.slug), []).extend((part.start, part.end) for part in parts)
    return lambda subject, at: any(since <= at < until for since, until in spans.get(subject, ()))


def _verdicts(reader: Reader, scope: Scope) -> Iterator[Row]:
    """What is judged of each batch now, or was on the day it was packaged."""
    for batch in _batches_of(reader, scope):
        judgement = reader.judgement(batch.id)
        if judgement is not None:
            yield _verdict(batch, judgement)


def _verdict(batch: Batch, judgement: Judgement) -> Row:
    whole = for_programs.judgement(judgement)
    parts = {name: whole[name] or {} for name in ("trend", "phase", "forecast", "verdict")}
    named = {"batch_id": batch.id, "batch": batch.name, "at": whole["at"]}
    named |= {name: parts[name].get(name) for name in ("phase", "verdict")}
    return _flat(named, parts, VERDICT_COLUMNS)


def _flat(whole: Row, parts: Mapping[str, Row], columns: tuple[str, ...]) -> Row:
    """One row of these columns: `phase_since` is `since` of the part `phase`."""
    under = {f"{part}_{name}": value for part, values in parts.items() for name, value in values.items()}
    return {column: under.get(column, whole.get(column)) for column in columns}


def _instant(at: datetime) -> str:
    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _names(names: str) -> tuple[str, ...]:
    return tuple(names.split())


def _prefixed(prefix: str, names: str) -> tuple[str, ...]:
    return tuple(f"{prefix}_{name}" for name in _names(names))


_QUANTITIES = tuple(dict.fromkeys(_suffix(one) for one in Quantity))
BATCH_COLUMNS = (
    *_names("id name vessel original_sg original_origin original_by pitched_at volume_l fermenter_volume_l"),
    *_prefixed("yeast", "kind name temperature_low_c temperature_high_c attenuation_low attenuation_high lag_max_h"),
    *_prefixed("yeast", "alcohol_tolerance_abv diastatic bottom_fermenting maltose_negative"),
    *_names("expected_terminal_low_sg expected_terminal_high_sg"),
    *_prefixed("package", "kind volumes storage_c limit_bar conditioning_c accident_c way"),
    *_names("extract_adjuncts_g_per_l rule_settings notes packaged_at ended_at"),
)
READING_COLUMNS = (
    *_names("at probe fermenter quantity"),
    *(f"{what}_{suffix}" for suffix in _QUANTITIES for what in ("value", "uncalibrated")),
    *_names("believed flags received_after_s"),
)
VERDICT_COLUMNS = (
    *_names("batch_id batch at"),
    "phase",
    *_prefixed("phase", "since reason"),
    *_prefixed(
        "trend", "gravity_sg gravity_sd_points rate_points_per_day apparent_attenuation measured_sg measured_at"
    ),
    *_prefixed("forecast", "terminal_sg terminal_low_sg terminal_high_sg done_at done_low_at done_high_at basis"),
    "verdict",
    *_prefixed("verdict", "since sentence reasons next_step next_at safe_from"),
)
MEASUREMENT_COLUMNS = (
    *_names("id at gravity_sg instrument sd_points reading unit sample_temperature_c degassed correction voided"),
)
ALARM_COLUMNS = (
    *_names("rule subject condition severity stands needs_attention occurrence since raised_at cleared_at"),
    *_names("acknowledged_at acknowledged_by shelved_until shelved_by out_of_service suppressed_by told_by"),
    *_names("last_known statement remedy"),
)
_OF_A_BATCH = ("batch_id", "batch")
TABLES = (
    Table("batches", BATCH_COLUMNS, _batches),
    Table("measurements", (*_OF_A_BATCH, *MEASUREMENT_COLUMNS), _measurements),
    Table("events", (*_OF_A_BATCH, "id", "at", "kind", "data", "text", "voided"), _events),
    Table("readings", READING_COLUMNS, _readings),
    Table("alarms", ALARM_COLUMNS, _alarms),
    Table("journal", ("at", "kind", "subject", "text"), _journal),
    Table("verdicts", VERDICT_COLUMNS, _verdicts),
)
