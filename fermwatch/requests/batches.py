"""Opening, editing and ending a batch."""

from dataclasses import replace
from datetime import datetime

from fermwatch.errors import RequestRefused
from fermwatch.model.amounts import instant
from fermwatch.model.batch import Batch
from fermwatch.model.subject import About
from fermwatch.plain_data import to_plain
from fermwatch.requests import shapes
from fermwatch.requests.checks import check_batch, check_pitched_lately
from fermwatch.requests.ledger import Done, Ledger, Who

_FIXED = {"id", "packaged_at", "ended_at", "version"}  # what an edit may not touch


def open_batch(ledger: Ledger, asked: Batch, who: Who) -> Done:
    batch = replace(asked, version=1)
    check_batch(batch, who.now)
    if not batch.in_fermenter:
        raise RequestRefused("A batch cannot be opened as packaged or ended.")
    if ledger.batch(batch.id) is not None:
        raise RequestRefused(f"There is already a batch {batch.id}.")
    _check_vessel_is_free(ledger, batch)
    ledger.keep_batch(batch)
    return Done(About.BATCH.of(batch.id), f"{who.user} opened {batch.name} in {batch.vessel}.")


def edit_batch(ledger: Ledger, asked: shapes.BatchEdit, who: Who) -> Done:
    batch = known_batch(ledger, asked.id)
    if asked.version is not None and asked.version != batch.version:
        raise RequestRefused(
            f"{batch.name} was changed meanwhile (version {batch.version}, not {asked.version}): look again."
        )
    fixed = sorted(_FIXED & set(asked.changes))
    if fixed:
        raise RequestRefused(f"{', '.join(fixed)} of a batch cannot be edited.")
    changed = shapes.read(Batch, {**to_plain(batch), **asked.changes, "version": batch.version + 1})
    check_batch(changed, who.now)
    if changed.pitched_at != batch.pitched_at:
        check_pitched_lately(changed, who.now)
    if changed.vessel != batch.vessel:
        if not batch.in_fermenter:
            raise RequestRefused(f"{batch.name} has left {batch.vessel}: it cannot move to another fermenter.")
        _check_vessel_is_free(ledger, changed)
    elif changed.pitched_at != batch.pitched_at:
        _check_vessel_was_free(ledger, changed)
    ledger.keep_batch(changed)
    return Done(About.BATCH.of(batch.id), f"{who.user} changed {', '.join(sorted(asked.changes))} of {batch.name}.")


def end_batch(ledger: Ledger, asked: shapes.EndingBatch, who: Who) -> Done:
    batch = known_batch(ledger, asked.id)
    if batch.ended_at is not None:
        raise RequestRefused(f"{batch.name} has already ended.")
    ledger.keep_batch(replace(batch, ended_at=who.now, version=batch.version + 1))
    return Done(About.BATCH.of(batch.id), f"{who.user} ended {batch.name}.")


def leave_fermenter(ledger: Ledger, batch: Batch, packaged_at: datetime) -> None:
    """It is packaged: the next beer may go where it was."""
    if batch.packaged_at is not None:
        raise RequestRefused(f"{batch.name} is packaged already, since {instant(batch.packaged_at)}.")
    if packaged_at < batch.pitched_at:
        raise RequestRefused(f"{batch.name} was pitched after that, at {instant(batch.pitched_at)}.")
    ledger.keep_batch(replace(batch, packaged_at=packaged_at, version=batch.version + 1))


def go_back_into_fermenter(ledger: Ledger, batch: Batch) -> None:
    """It was never packaged: it is where it was, if no other beer is there."""
    back = replace(batch, packaged_at=None, version=batch.version + 1)
    if back.in_fermenter:
        _check_vessel_is_free(ledger, back)
    ledger.keep_batch(back)


def known_batch(ledger: Ledger, batch_id: str) -> Batch:
    batch = ledger.batch(batch_id)
    if batch is None:
        raise RequestRefused(f"There is no batch {batch_id}.")
    return batch


def _check_vessel_is_free(ledger: Ledger, batch: Batch) -> None:
    if not ledger.has_vessel(batch.vessel):
        raise RequestRefused(f"There is no vessel {batch.vessel} in the configuration.")
    there = ledger.batch_in(batch.vessel)
    if there is not None and there.id != batch.id:
        raise RequestRefused(
            f"The fermenter {batch.vessel} still holds {there.name}: package it, end it or move it first."
        )
    _check_vessel_was_free(ledger, batch)


def _check_vessel_was_free(ledger: Ledger, batch: Batch) -> None:
    """Two beers were never in one fermenter: what its probes said is about one of them."""
    for there in ledger.packaged_out_of(batch.vessel, batch.pitched_at):
        if there.id != batch.id and there.packaged_at is not None:
            then, until = instant(batch.pitched_at), instant(there.packaged_at)
            raise RequestRefused(
                f"At {then} {there.name} was still in {batch.vessel}, until it was packaged at {until}."
            )
