"""All that the store knows of one batch, from the pitch to where it is now, read at one instant for its page."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.brewing.bottle_store import packaged_beer
from fermwatch.contracts.feed import Curves, Freshness, InPackage, Lane, ProbeView
from fermwatch.contracts.store import JournalEntry, Reader
from fermwatch.feed.curves import CurveReader
from fermwatch.model.batch import Batch
from fermwatch.model.history import History
from fermwatch.model.intent import course_of, warmed_at
from fermwatch.model.probe import Vessel
from fermwatch.model.window import Window
from fermwatch.report.hindsight import Ended, PastForecast, ended, past_forecasts
from fermwatch.saying.marks import subjects_of
from fermwatch.saying.stood import Standing, standings

COLUMNS = 360
SHORTEST = timedelta(hours=6)  # of what is drawn
EVERY_LINE = 1_000_000_000  # of the journal


@dataclass(frozen=True, slots=True)
class WholeStory:
    """until: when it left its fermenter, or now. lane: the fermenter as it was while the beer was in it.

    journal: what it says of alarms meanwhile. packaged: where it is in its package, or was.
    """

    site: str
    batch: Batch
    lane: Lane
    curves: Curves
    until: datetime
    now: datetime
    journal: tuple[JournalEntry, ...] = ()
    standings: tuple[Standing, ...] = ()
    packaged: InPackage | None = None
    past_forecasts: tuple[PastForecast, ...] = ()
    ended: Ended | None = None


def read_story(reader: Reader, batch: Batch, now: datetime) -> WholeStory:
    """What cannot be read of it is left out."""
    site, _ = reader.site()
    until = max(min(now, batch.left_fermenter_at or now), batch.pitched_at + SHORTEST)
    history = History(reader.bindings())
    window = Window(batch.pitched_at, until, COLUMNS)
    curves = CurveReader(reader, history).read_all(batch.vessel, window, since=batch.pitched_at)
    lane = _lane(reader, history, batch, until)
    journal = _journal(reader, lane, batch, now)
    measured = lane.measurements
    return WholeStory(
        site=site,
        batch=batch,
        lane=lane,
        curves=curves,
        until=until,
        now=now,
        journal=journal,
        standings=standings(journal),
        packaged=packaged_beer(reader, batch, now, reader.alarms()) if batch.packaged_at is not None else None,
        past_forecasts=past_forecasts(reader, batch, until),
        ended=ended(batch, lane.judgement, measured, curves),
    )


def _lane(reader: Reader, history: History, batch: Batch, until: datetime) -> Lane:
    known = {vessel.slug: vessel for vessel in reader.vessels()}
    events = reader.events(batch.id, strict=False)
    served = (
        one.probe
        for one in reader.series(every=True)
        if any(part.vessel == batch.vessel for part in history.parts(one.series, batch.pitched_at, until))
    )
    return Lane(
        vessel=known.get(batch.vessel, Vessel(batch.vessel, batch.vessel, batch.volume_l)),
        batch=batch,
        probes=tuple(ProbeView(probe, Freshness.NEVER) for probe in served),
        alarms=(),
        judgement=reader.judgement(batch.id),
        measurements=reader.measurements(batch.id, strict=False),
        events=events,
        course=course_of(events, until, warmed_at(reader.alarms(), batch.vessel)),
    )


def _journal(reader: Reader, lane: Lane, batch: Batch, now: datetime) -> tuple[JournalEntry, ...]:
    """Of its fermenter and its probes while it was there, and of the beer itself until it was drunk up."""
    own, left = subjects_of(lane), batch.left_fermenter_at or now
    own_alone = frozenset({subject for subject in own if subject.endswith(batch.id)})
    entries = reader.journal(limit=EVERY_LINE, kind="alarm")
    return tuple(
        one
        for one in entries
        if one.at >= batch.pitched_at and (one.subject in own_alone or (one.subject in own and one.at <= left))
    )
