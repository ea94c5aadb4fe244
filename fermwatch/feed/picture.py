"""The feed: one frozen picture of the store at one instant, for a screen or a text command.

Calibration and which fermenter a probe serves are applied here, each as it held when the reading was taken.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from operator import attrgetter

from fermwatch.brewing.bottle_store import packaged_beer
from fermwatch.contracts.feed import Freshness, Lane, ProbeView, Snapshot
from fermwatch.contracts.store import Latest, Reader, SourceState, StoredProbe, deciding_now
from fermwatch.feed.curves import CurveReader
from fermwatch.model.batch import Batch
from fermwatch.model.believable import believable
from fermwatch.model.finding import Alarm
from fermwatch.model.history import NOWHERE, History
from fermwatch.model.intent import course_of, warmed_at
from fermwatch.model.probe import Probe, Vessel
from fermwatch.model.reading import LITTLE_AHEAD, Flag
from fermwatch.model.subject import about_fermenter
from fermwatch.model.window import last_day
from fermwatch.units import doubt

_LOST = {SourceState.UNAVAILABLE, SourceState.REFUSED}


class Picture:
    """What is read once and looked at for every lane."""

    def __init__(self, reader: Reader, wall_now: datetime, *, held: bool) -> None:
        self._reader, self._wall_now, self._held = reader, wall_now, held
        self._site, self._timezone = reader.site()
        self._watcher = reader.watcher()
        self._now = deciding_now(self._watcher, wall_now)
        self._series = reader.series()
        self._latest = reader.latest()
        self._history = History(reader.bindings())
        self._sources = reader.sources()
        self._controllers = reader.controllers()
        self._lost = {one.name for one in self._sources if one.state in _LOST}
        self._watched = self._watcher is not None and self._watcher.awake(wall_now, held=held)
        open_batches = reader.batches()
        self._batches = {batch.vessel: batch for batch in open_batches if batch.in_fermenter}
        self._packaged = [batch for batch in open_batches if batch.in_package]
        self._all_alarms = reader.alarms()
        shown = (one for one in self._all_alarms if one.stands or one.lingers(self._now) or one.kept_quiet)
        self._alarms = sorted(shown, key=attrgetter("urgency"))
        self._curves = CurveReader(reader, self._history)

    def snapshot(self) -> Snapshot:
        picture = Snapshot(
            site=self._site,
            timezone=self._timezone,
            now=self._now,
            wall_now=self._wall_now,
            watcher=self._watcher,
            lanes=tuple(self._lane(vessel) for vessel in self._reader.vessels()),
            alarms=tuple(self._alarms),
            lease_held=self._held,
            sources=self._sources,
            told=self._reader.told(),
            notifiers=tuple(one.name for one in self._reader.notifiers()),
            stores=tuple(self._probe_view(one) for one in self._series if one.probe.vessel == NOWHERE),
            in_package=tuple(packaged_beer(self._reader, batch, self._now, self._alarms) for batch in self._packaged),
        )
        return replace(picture, misread=self._reader.misread())

    def _lane(self, vessel: Vessel) -> Lane:
        batch = self._batches.get(vessel.slug)
        own = [series for series in self._series if series.probe.vessel == vessel.slug]
        events = self._reader.events(batch.id, strict=False) if batch else ()
        day = self._curves.read(vessel.slug, last_day(self._now), since=batch.pitched_at if batch else None)
        return Lane(
            vessel=vessel,
            batch=batch,
            probes=tuple(self._probe_view(series) for series in own),
            alarms=self._alarms_of(vessel, batch, own),
            beer_curve=day.beer,
            gravity_curve=day.gravity,
            judgement=self._reader.judgement(batch.id) if batch else None,
            measurements=self._reader.measurements(batch.id, strict=False) if batch else (),
            events=events,
            course=course_of(events, self._now, warmed_at(self._all_alarms, vessel.slug)),
            controllers=tuple(one for one in self._controllers if one.vessel == vessel.slug),
        )

    def _alarms_of(self, vessel: Vessel, batch: Batch | None, own: Sequence[StoredProbe]) -> tuple[Alarm, ...]:
        probes = (series.probe.slug for series in own)
        subjects = about_fermenter(vessel.slug, probes, None if batch is None else batch.id)
        return tuple(alarm for alarm in self._alarms if alarm.subject in subjects)

    def _probe_view(self, series: StoredProbe) -> ProbeView:
        latest = self._latest.get(series.series)
        if latest is None:
            return ProbeView(series.probe, Freshness.NEVER)
        if (elsewhere := self._elsewhere(series, latest)) is not None:
            return ProbeView(series.probe, Freshness.NEVER, flagged=f"not heard since it was moved here{elsewhere}")
        freshness = _freshness(latest, self._age_s(latest), series.probe.silent_after_s)
        if freshness is not Freshness.FAULTY and (series.probe.source in self._lost or not self._watched):
            freshness = Freshness.CUT_OFF
        ahead = latest.at > self._now + LITTLE_AHEAD
        if ahead:
            latest, freshness = replace(latest, flags=latest.flags | Flag.AHEAD), Freshness.FAULTY
        flagged = _flagged(latest, series.probe)
        good = latest if believable(latest.flags) else self._reader.last_good(latest)
        if good is None or self._elsewhere(series, good) is not None:
            return ProbeView(series.probe, freshness, flagged=flagged)
        return ProbeView(
            probe=series.probe,
            freshness=freshness,
            value=self._history.calibrated(series.series, good.at, good.value),
            at=good.at if good.age_known else None,
            age_s=self._age_s(good) if good.age_known else None,
            flagged=flagged,
        )

    def _age_s(self, latest: Latest) -> float:
        return max((self._now - latest.at).total_seconds(), 0.0)

    def _elsewhere(self, series: StoredProbe, latest: Latest) -> str | None:
        """Where the probe was when it said this, in words: it is none of its present fermenter's. None: it was here."""
        then = self._history.vessel(series.series, latest.at)
        if then == series.probe.vessel:
            return None
        return f" from {then}" if then else ""


def _flagged(latest: Latest, probe: Probe) -> str:
    """Why the newest reading is not to be taken at its word."""
    unsure = "its clock is unsure" if latest.flags & Flag.CLOCK_UNSURE else ""
    return ", ".join(words for words in (doubt(latest.flags, probe, latest.value), unsure) if words)


def _freshness(latest: Latest, age_s: float, silent_after_s: float) -> Freshness:
    """Of the newest reading, good or not: a probe that fell silent is stale, whatever it said last."""
    if not latest.last_known and age_s > silent_after_s:
        return Freshness.STALE
    if not believable(latest.flags):
        return Freshness.FAULTY
    return Freshness.LAST_KNOWN if latest.last_known else Freshness.LIVE
