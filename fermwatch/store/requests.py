"""What each kind of request does to the store. Called within the transaction that also records the outcome.

Everything is checked before anything is written; what cannot be done is a RequestRefused in one sentence.
"""

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

from fermwatch.clock import to_ms
from fermwatch.contracts.inbox import Request, RequestKind
from fermwatch.errors import RequestRefused
from fermwatch.model.attention import acknowledge, set_service, shelve, unshelve
from fermwatch.model.batch import Batch
from fermwatch.model.finding import Alarm
from fermwatch.store import payload
from fermwatch.store.codec import from_text, to_plain, to_text
from fermwatch.text import clean

REQUEST_VERSION = 1

_VESSEL = "SELECT 1 FROM vessel WHERE site = ? AND slug = ? AND configured"
_BATCH = "SELECT batch FROM batch WHERE site = ? AND id = ?"
_OPEN_IN_VESSEL = "SELECT batch FROM batch WHERE site = ? AND vessel = ? AND NOT ended AND id <> ?"
_KEEP_BATCH = """
INSERT INTO batch (site, id, vessel, pitched_at_ms, ended, batch) VALUES (?, ?, ?, ?, ?, ?)
ON CONFLICT (site, id) DO UPDATE SET vessel = excluded.vessel, pitched_at_ms = excluded.pitched_at_ms,
ended = excluded.ended, batch = excluded.batch
"""
_SAID = """
SELECT voided FROM measurement WHERE site = :site AND id = :id
UNION ALL SELECT voided FROM event WHERE site = :site AND id = :id
"""
_MEASURE = "INSERT INTO measurement (site, id, batch, at_ms, measurement) VALUES (?, ?, ?, ?, ?)"
_EVENT = "INSERT INTO event (site, id, batch, at_ms, event) VALUES (?, ?, ?, ?, ?)"
_VOID_MEASUREMENT = "UPDATE measurement SET voided = 1, void_reason = ? WHERE site = ? AND id = ?"
_VOID_EVENT = "UPDATE event SET voided = 1, void_reason = ? WHERE site = ? AND id = ?"
_ALARM = "SELECT alarm FROM alarm WHERE site = ? AND rule = ? AND subject = ?"
KEEP_ALARM = "INSERT OR REPLACE INTO alarm (site, rule, subject, alarm) VALUES (?, ?, ?, ?)"

_FIXED = {"id", "ended_at", "version"}  # of a batch: what an edit may not touch


@dataclass(frozen=True, slots=True)
class Done:
    """What was done, for the journal: about what, and in words."""

    subject: str
    text: str


@dataclass(frozen=True, slots=True)
class Desk:
    """Where a request is carried out: the transaction, whose request it is, and the deciding instant."""

    connection: sqlite3.Connection
    site: str
    request: Request
    user: str
    now: datetime

    def batch(self, batch_id: str) -> Batch:
        row = self.connection.execute(_BATCH, (self.site, batch_id)).fetchone()
        if row is None:
            raise RequestRefused(f"There is no batch {batch_id}.")
        return from_text(Batch, row[0])

    def keep_batch(self, batch: Batch) -> None:
        row = (self.site, batch.id, batch.vessel, to_ms(batch.pitched_at), batch.ended_at is not None, to_text(batch))
        self.connection.execute(_KEEP_BATCH, row)

    def check_vessel_is_free(self, batch: Batch) -> None:
        if self.connection.execute(_VESSEL, (self.site, batch.vessel)).fetchone() is None:
            raise RequestRefused(f"There is no vessel {batch.vessel} in the configuration.")
        there = self.connection.execute(_OPEN_IN_VESSEL, (self.site, batch.vessel, batch.id)).fetchone()
        if there is not None:
            name = from_text(Batch, there[0]).name
            raise RequestRefused(f"The vessel {batch.vessel} already holds the open batch {name}: end that one first.")

    def voided(self, identity: str) -> bool | None:
        """Whether a measurement or event is voided; None where there is none."""
        row = self.connection.execute(_SAID, {"site": self.site, "id": identity}).fetchone()
        return None if row is None else bool(row[0])

    def alarm(self, rule: str, subject: str) -> Alarm | None:
        row = self.connection.execute(_ALARM, (self.site, rule, subject)).fetchone()
        return None if row is None else from_text(Alarm, row[0])

    def existing_alarm(self, rule: str, subject: str) -> Alarm:
        payload.check_alarm_name(rule, subject)
        alarm = self.alarm(rule, subject)
        if alarm is None:
            raise RequestRefused(f"There is no alarm {rule} of {subject}.")
        return alarm

    def keep_alarm(self, alarm: Alarm) -> None:
        self.connection.execute(KEEP_ALARM, (self.site, alarm.rule, alarm.subject, to_text(alarm)))


def carry_out(desk: Desk) -> Done:
    """Do what the request asks. Raises RequestRefused; what it wrote until then must be rolled back."""
    if desk.request.site != desk.site:
        raise RequestRefused(f"This is the site {desk.site}, not {clean(desk.request.site)}.")
    if desk.request.version != REQUEST_VERSION:
        raise RequestRefused(
            f"The request has version {desk.request.version}; this watcher knows version {REQUEST_VERSION}: update it."
        )
    return _KINDS[desk.request.kind](desk)


def _open_batch(desk: Desk) -> Done:
    batch = replace(payload.read(Batch, desk.request.payload), version=1)
    payload.check_batch(batch, desk.now)
    if batch.ended_at is not None:
        raise RequestRefused("A batch cannot be opened as ended.")
    if desk.connection.execute(_BATCH, (desk.site, batch.id)).fetchone() is not None:
        raise RequestRefused(f"There is already a batch {batch.id}.")
    desk.check_vessel_is_free(batch)
    desk.keep_batch(batch)
    return Done(f"batch:{batch.id}", f"{desk.user} opened {batch.name} in {batch.vessel}.")


def _edit_batch(desk: Desk) -> Done:
    edit = payload.read(payload.BatchEdit, desk.request.payload)
    batch = desk.batch(edit.id)
    if edit.version is not None and edit.version != batch.version:
        raise RequestRefused(
            f"{batch.name} was changed meanwhile (version {batch.version}, not {edit.version}): look again."
        )
    fixed = sorted(_FIXED & set(edit.changes))
    if fixed:
        raise RequestRefused(f"{', '.join(fixed)} of a batch cannot be edited.")
    changed = payload.read(Batch, {**to_plain(batch), **edit.changes, "version": batch.version + 1})
    payload.check_batch(changed, desk.now)
    if changed.vessel != batch.vessel:
        if batch.ended_at is not None:
            raise RequestRefused(f"{batch.name} has ended: it cannot move to another vessel.")
        desk.check_vessel_is_free(changed)
    desk.keep_batch(changed)
    return Done(f"batch:{batch.id}", f"{desk.user} changed {', '.join(sorted(edit.changes))} of {batch.name}.")


def _end_batch(desk: Desk) -> Done:
    batch = desk.batch(payload.read(payload.ById, desk.request.payload).id)
    if batch.ended_at is not None:
        raise RequestRefused(f"{batch.name} has already ended.")
    desk.keep_batch(replace(batch, ended_at=desk.now, version=batch.version + 1))
    return Done(f"batch:{batch.id}", f"{desk.user} ended {batch.name}.")


def _measure(desk: Desk) -> Done:
    asked = payload.read(payload.Measured, desk.request.payload)
    measurement = asked.measurement
    payload.check_measurement(measurement, desk.now)
    batch = desk.batch(asked.batch)
    if desk.voided(measurement.id) is not None:
        raise RequestRefused(f"There is already a measurement or event {measurement.id}.")
    row = (desk.site, measurement.id, batch.id, to_ms(measurement.at), to_text(measurement))
    desk.connection.execute(_MEASURE, row)
    return Done(f"batch:{batch.id}", f"{desk.user} measured {measurement.gravity_sg:.4f} in {batch.name}.")


def _event(desk: Desk) -> Done:
    asked = payload.read(payload.Happened, desk.request.payload)
    event = asked.event
    payload.check_event(event, desk.now)
    batch = desk.batch(asked.batch)
    if desk.voided(event.id) is not None:
        raise RequestRefused(f"There is already a measurement or event {event.id}.")
    desk.connection.execute(_EVENT, (desk.site, event.id, batch.id, to_ms(event.at), to_text(event)))
    return Done(f"batch:{batch.id}", f"{desk.user} noted {event.kind} for {batch.name}.")


def _void(desk: Desk) -> Done:
    asked = payload.read(payload.Voiding, desk.request.payload)
    voided = desk.voided(asked.id)
    if voided is None:
        raise RequestRefused(f"There is no measurement or event {asked.id}.")
    if voided:
        raise RequestRefused(f"{asked.id} is already voided.")
    for statement in (_VOID_MEASUREMENT, _VOID_EVENT):
        desk.connection.execute(statement, (asked.reason, desk.site, asked.id))
    return Done(f"said:{asked.id}", f"{desk.user} voided {asked.id}: {asked.reason or 'no reason given'}.")


def _acknowledge(desk: Desk) -> Done:
    asked = payload.read(payload.AlarmNamed, desk.request.payload)
    alarm = desk.existing_alarm(asked.rule, asked.subject)
    desk.keep_alarm(acknowledge(alarm, desk.user, desk.now))
    return Done(alarm.subject, f"{desk.user} acknowledged {alarm.rule}.")


def _shelve(desk: Desk) -> Done:
    asked = payload.read(payload.Shelving, desk.request.payload)
    alarm = desk.existing_alarm(asked.rule, asked.subject)
    desk.keep_alarm(shelve(alarm, asked.until, desk.user, desk.now))
    return Done(alarm.subject, f"{desk.user} shelved {alarm.rule} until {asked.until:%Y-%m-%d %H:%M} UTC.")


def _unshelve(desk: Desk) -> Done:
    asked = payload.read(payload.AlarmNamed, desk.request.payload)
    alarm = desk.existing_alarm(asked.rule, asked.subject)
    desk.keep_alarm(unshelve(alarm))
    return Done(alarm.subject, f"{desk.user} took {alarm.rule} off the shelf.")


def _service(desk: Desk) -> Done:
    asked = payload.read(payload.Service, desk.request.payload)
    payload.check_alarm_name(asked.rule, asked.subject)
    alarm = desk.alarm(asked.rule, asked.subject) or Alarm(asked.rule, asked.subject)
    if alarm.out_of_service == asked.out:
        raise RequestRefused(f"{alarm.rule} of {alarm.subject} is {'out of' if asked.out else 'in'} service already.")
    desk.keep_alarm(set_service(alarm, out=asked.out))
    where = "out of service" if asked.out else "back into service"
    return Done(alarm.subject, f"{desk.user} took {alarm.rule} {where}.")


_KINDS: dict[RequestKind, Callable[[Desk], Done]] = {
    RequestKind.OPEN_BATCH: _open_batch,
    RequestKind.EDIT_BATCH: _edit_batch,
    RequestKind.END_BATCH: _end_batch,
    RequestKind.MEASURE: _measure,
    RequestKind.EVENT: _event,
    RequestKind.VOID: _void,
    RequestKind.ACKNOWLEDGE: _acknowledge,
    RequestKind.SHELVE: _shelve,
    RequestKind.UNSHELVE: _unshelve,
    RequestKind.SERVICE: _service,
}
