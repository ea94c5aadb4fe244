"""What was in a fermenter last, as it was on the day that it was packaged: its ferment can still be looked at."""

from dataclasses import replace
from datetime import datetime

from fermwatch.contracts.feed import BatchAnswer, BatchQuery, InPackage, Lane
from fermwatch.dashboard.known import Known
from fermwatch.model.intent import NOTHING_DECLARED


def out_of(lane: Lane, known: Known) -> InPackage | None:
    """The beer that left an empty fermenter last; None where it is not empty, or nothing did."""
    if lane.batch is not None or known.snapshot is None:
        return None
    beers = [one for one in known.snapshot.in_package if one.batch.vessel == lane.vessel.slug]
    return max(beers, key=lambda one: one.packaging.at, default=None)


def as_it_was(lane: Lane, one: InPackage, known: Known) -> Lane:
    """The fermenter with that beer: what its probes say now is about nothing that is in it."""
    answer = known.answer(BatchQuery(one.batch.id))
    told = answer if isinstance(answer, BatchAnswer) and answer.query.batch_id == one.batch.id else None
    return replace(
        lane,
        batch=one.batch,
        events=one.events,
        judgement=one.judgement,
        measurements=told.measurements if told is not None else (),
        probes=(),
        alarms=(),
        controllers=(),
        course=NOTHING_DECLARED,
    )


def ended_at(one: InPackage, now: datetime) -> datetime:
    return min(max(one.packaging.at, one.batch.pitched_at), now)
