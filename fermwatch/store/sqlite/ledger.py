"""requests.ledger.Ledger over the watcher's own connection, within the transaction that it has begun."""

import sqlite3
from collections.abc import Callable, Sequence
from datetime import datetime

from fermwatch.clock import to_ms
from fermwatch.model.batch import Batch, Event, EventKind, GravityMeasurement
from fermwatch.model.finding import Alarm
from fermwatch.model.quantity import Quantity
from fermwatch.model.reading import Reading
from fermwatch.store import rows

_VESSEL = "SELECT 1 FROM vessel WHERE site = ? AND slug = ? AND configured"
_BATCH = "SELECT batch FROM batch WHERE site = ? AND id = ?"
_IN_FERMENTER = "SELECT batch FROM batch WHERE site = ? AND vessel = ? AND NOT ended AND packaged_at_ms IS NULL"
_PACKAGED_AFTER = """
SELECT batch FROM batch WHERE site = :site AND vessel = :vessel AND pitched_at_ms <= :at_ms AND packaged_at_ms > :at_ms
"""
_KEEP_BATCH = """
INSERT INTO batch (site, id, vessel, pitched_at_ms, packaged_at_ms, ended, batch) VALUES (?, ?, ?, ?, ?, ?, ?)
ON CONFLICT (site, id) DO UPDATE SET vessel = excluded.vessel, pitched_at_ms = excluded.pitched_at_ms,
packaged_at_ms = excluded.packaged_at_ms, ended = excluded.ended, batch = excluded.batch
"""
_SAID = """
SELECT voided FROM measurement WHERE site = :site AND id = :id
UNION ALL SELECT voided FROM event WHERE site = :site AND id = :id
"""
_SAID_OF = """
SELECT (SELECT count(*) FROM measurement WHERE site = :site AND batch = :batch)
+ (SELECT count(*) FROM event WHERE site = :site AND batch = :batch)
"""
_PACKAGED_BY = """
SELECT b.batch FROM event AS e JOIN batch AS b ON b.site = e.site AND b.id = e.batch
WHERE e.site = ? AND e.id = ? AND NOT e.voided AND json_extract(e.event, '$.kind') = ?
"""
_SERIES_OF = """
SELECT series FROM series WHERE site = ? AND configured AND quantity = ? AND json_extract(probe, '$.vessel') = ?
ORDER BY position LIMIT 1
"""
_MEASURE = "INSERT INTO measurement (site, id, batch, at_ms, measurement) VALUES (?, ?, ?, ?, ?)"
_EVENT = "INSERT INTO event (site, id, batch, at_ms, event) VALUES (?, ?, ?, ?, ?)"
_VOID_MEASUREMENT = "UPDATE measurement SET voided = 1, void_reason = ? WHERE site = ? AND id = ?"
_VOID_EVENT = "UPDATE event SET voided = 1, void_reason = ? WHERE site = ? AND id = ?"
_ALARM = "SELECT alarm FROM alarm WHERE site = ? AND rule = ? AND subject = ?"
KEEP_ALARM = "INSERT OR REPLACE INTO alarm (site, rule, subject, alarm) VALUES (?, ?, ?, ?)"


class SqliteLedger:
    """One site's book, open for one request."""

    def __init__(
        self, connection: sqlite3.Connection, site: str, add_readings: Callable[[Sequence[Reading]], int]
    ) -> None:
        self._connection, self._site, self._add_readings = connection, site, add_readings

    def batch(self, batch_id: str) -> Batch | None:
        row = self._connection.execute(_BATCH, (self._site, batch_id)).fetchone()
        return None if row is None else rows.BATCH.read(row[0])

    def keep_batch(self, batch: Batch) -> None:
        packaged_at_ms = None if batch.packaged_at is None else to_ms(batch.packaged_at)
        ended, pitched_at_ms = batch.ended_at is not None, to_ms(batch.pitched_at)
        row = (self._site, batch.id, batch.vessel, pitched_at_ms, packaged_at_ms, ended, rows.BATCH.row(batch))
        self._connection.execute(_KEEP_BATCH, row)

    def has_vessel(self, vessel: str) -> bool:
        return self._connection.execute(_VESSEL, (self._site, vessel)).fetchone() is not None

    def batch_in(self, vessel: str) -> Batch | None:
        row = self._connection.execute(_IN_FERMENTER, (self._site, vessel)).fetchone()
        return None if row is None else rows.BATCH.read(row[0])

    def packaged_out_of(self, vessel: str, at: datetime) -> tuple[Batch, ...]:
        wanted = {"site": self._site, "vessel": vessel, "at_ms": to_ms(at)}
        return tuple(rows.BATCH.read(text) for (text,) in self._connection.execute(_PACKAGED_AFTER, wanted))

    def packaged_by(self, event: str) -> Batch | None:
        row = self._connection.execute(_PACKAGED_BY, (self._site, event, EventKind.PACKAGED)).fetchone()
        return None if row is None else rows.BATCH.read(row[0])

    def is_voided(self, identity: str) -> bool | None:
        row = self._connection.execute(_SAID, {"site": self._site, "id": identity}).fetchone()
        return None if row is None else bool(row[0])

    def said_of(self, batch_id: str) -> int:
        wanted = {"site": self._site, "batch": batch_id}
        return int(self._connection.execute(_SAID_OF, wanted).fetchone()[0])

    def add_measurement(self, batch_id: str, measurement: GravityMeasurement) -> None:
        row = (self._site, measurement.id, batch_id, to_ms(measurement.at), rows.MEASUREMENT.row(measurement))
        self._connection.execute(_MEASURE, row)

    def add_event(self, batch_id: str, event: Event) -> None:
        self._connection.execute(_EVENT, (self._site, event.id, batch_id, to_ms(event.at), rows.EVENT.row(event)))

    def void(self, identity: str, reason: str) -> None:
        for statement in (_VOID_MEASUREMENT, _VOID_EVENT):
            self._connection.execute(statement, (reason, self._site, identity))

    def series_of(self, vessel: str, quantity: Quantity) -> int | None:
        row = self._connection.execute(_SERIES_OF, (self._site, quantity, vessel)).fetchone()
        return None if row is None else int(row[0])

    def add_readings(self, readings: Sequence[Reading]) -> int:
        return self._add_readings(readings)

    def alarm(self, rule: str, subject: str) -> Alarm | None:
        row = self._connection.execute(_ALARM, (self._site, rule, subject)).fetchone()
        return None if row is None else rows.ALARM.read(row[0])

    def keep_alarm(self, alarm: Alarm) -> None:
        self._connection.execute(KEEP_ALARM, (self._site, alarm.rule, alarm.subject, rows.ALARM.row(alarm)))
