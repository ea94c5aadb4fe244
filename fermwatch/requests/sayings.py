"""What was measured of a batch, done to it or seen of it, and voiding a slip: nothing is ever edited."""

from fermwatch.brewing.planning import begun_by, is_cold, mistakes, state_words
from fermwatch.errors import RequestRefused
from fermwatch.model.amounts import gravity, instant
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.event_data import OPENED, VENTED
from fermwatch.model.plan import progress_by
from fermwatch.model.subject import About
from fermwatch.requests import shapes
from fermwatch.requests.batches import go_back_into_fermenter, known_batch, leave_fermenter
from fermwatch.requests.checks import check_measurement, check_room, checked_event
from fermwatch.requests.ledger import Done, Ledger, Who

AFTER_PACKAGING = {EventKind.OBSERVATION, EventKind.NOTE, EventKind.FORCED_FERMENT, EventKind.DIACETYL_TEST}


def measure(ledger: Ledger, asked: shapes.Measuring, who: Who) -> Done:
    measurement = asked.measurement
    check_measurement(measurement, who.now)
    batch = known_batch(ledger, asked.batch)
    _check_is_new(ledger, measurement.id)
    check_room(ledger.said_of(batch.id), batch)
    ledger.add_measurement(batch.id, measurement)
    return Done(About.BATCH.of(batch.id), f"{who.user} measured {gravity(measurement.gravity_sg)} in {batch.name}.")


def happen(ledger: Ledger, asked: shapes.Happened, who: Who) -> Done:
    event = checked_event(asked.event, who.now)
    batch = known_batch(ledger, asked.batch)
    _check_is_new(ledger, event.id)
    if event.kind is not EventKind.PACKAGED:  # which is once, and there is always room for
        check_room(ledger.said_of(batch.id), batch)
    if event.kind is EventKind.PACKAGED:
        leave_fermenter(ledger, batch, event.at)
    else:
        check_where_it_is(batch, event)
    ledger.add_event(batch.id, event)
    if event.kind is EventKind.PLAN:
        return _plan(ledger, batch, event, who)
    return Done(About.BATCH.of(batch.id), f"{who.user} noted {event.kind} for {batch.name}.")


def _plan(ledger: Ledger, batch: Batch, event: Event, who: Who) -> Done:
    """With what a step that begins means for the range; both, or neither."""
    progress, about = progress_by(event), About.BATCH.of(batch.id)
    if progress is None:
        return Done(about, f"{who.user} gave up the plan of {batch.name}.")
    if wrong := next(mistakes(progress.plan, batch.yeast), ""):
        raise RequestRefused(wrong)
    step = progress.step
    if step is not None and is_cold(step, batch.yeast) and not progress.although:
        raise RequestRefused("A cold step needs a reason: it was safe to bottle, or why it may be all the same.")
    declared = begun_by(event, progress, batch.yeast)
    if declared is not None:
        ledger.add_event(batch.id, declared)
    return Done(about, f"{who.user}, the plan of {batch.name}: {state_words(progress)}.")


def check_where_it_is(batch: Batch, event: Event) -> None:
    """RequestRefused for what cannot be done to beer in its package, or to none but such."""
    packaged_at = batch.packaged_at
    if packaged_at is not None and event.at >= packaged_at and event.kind not in AFTER_PACKAGING:
        raise RequestRefused(f"{batch.name} is in its package since {instant(packaged_at)}: no {event.kind} any more.")
    if event.data.get("what") in {OPENED, VENTED} and (packaged_at is None or event.at < packaged_at):
        raise RequestRefused(f"{batch.name} was not in its package then: nothing of it can have been opened cold.")


def void(ledger: Ledger, asked: shapes.Voiding, who: Who) -> Done:
    voided = ledger.is_voided(asked.id)
    if voided is None:
        raise RequestRefused(f"There is no measurement or event {asked.id}.")
    if voided:
        raise RequestRefused(f"{asked.id} is already voided.")
    packaged = ledger.packaged_by(asked.id)
    if packaged is not None:
        go_back_into_fermenter(ledger, packaged)
    ledger.void(asked.id, asked.reason)
    return Done(f"said:{asked.id}", f"{who.user} voided {asked.id}: {asked.reason or 'no reason given'}.")


def _check_is_new(ledger: Ledger, identity: str) -> None:
    if ledger.is_voided(identity) is not None:
        raise RequestRefused(f"There is already a measurement or event {identity}.")
