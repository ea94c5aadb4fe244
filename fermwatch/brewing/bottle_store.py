"""A packaged beer as the store knows it, and the place where it stands, for whoever shows or judges them."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from fermwatch.brewing.conditioning import conditioning_of
from fermwatch.contracts.feed import InPackage
from fermwatch.contracts.store import Reader, StoredProbe
from fermwatch.model.batch import Batch, Event
from fermwatch.model.conditioning import DAY, Stood
from fermwatch.model.finding import Alarm
from fermwatch.model.history import History
from fermwatch.model.packaging import Packaging, packaging_of
from fermwatch.model.quantity import Quantity
from fermwatch.model.rule_settings import DEFAULTS, RuleSettings, for_batch
from fermwatch.model.subject import About

COLUMNS = 96
SHORTEST = timedelta(minutes=15)
LEAST = timedelta(seconds=1)  # so that a mean over spans has some


def store_series(series: Sequence[StoredProbe], stands_by: str = "") -> StoredProbe | None:
    """The probe of the place where a beer stands: the one named, or the only one that there is."""
    there = [one for one in series if one.probe.quantity is Quantity.STORE_TEMPERATURE]
    named = [one for one in there if one.probe.slug == stands_by]
    return named[0] if named else there[0] if len(there) == 1 and not stands_by else None


def stood(reader: Reader, packaging: Packaging, now: datetime) -> tuple[Stood, ...]:
    """What was measured where a packaged beer stands, as means over spans of time, from a day before it was packaged.

    So that on that day it is known how warm it will stand, and the dates on a label are those that are said later.
    """
    series = store_series(reader.series(), packaging.stands_by)
    if series is None or now < packaging.at:
        return ()
    began = packaging.at - DAY
    history = History(reader.bindings())
    span = max((now - began) / COLUMNS, SHORTEST)
    columns = int((now - began) / span) + 1
    buckets = reader.buckets(series.series, began, began + columns * span, columns)
    last = reader.latest().get(series.series)
    good = None if last is None else reader.last_good(last)  # the newest may be one that nobody believes
    heard_at = now if good is None else good.at
    stands = []
    for one in buckets:
        until = max(min(one.at + span, heard_at, now), one.at + LEAST)
        stands.append(Stood(one.at, until, history.calibrated(series.series, one.at, one.mean)))
    return tuple(stands)


def settings_of(reader: Reader, batch: Batch) -> RuleSettings:
    """As the watcher goes by: the site's and the fermenter's as configured, the batch's own over them."""
    vessel = next((one for one in reader.vessels() if one.slug == batch.vessel), None)
    return for_batch(DEFAULTS, {**(vessel.rule_settings if vessel is not None else {}), **batch.rule_settings})


def packaged_beer(
    reader: Reader, batch: Batch, now: datetime, alarms: Sequence[Alarm] = (), *, and_said: Sequence[Event] = ()
) -> InPackage:
    """`alarms`: those of the site that are worth showing. and_said: what is about to be stored of it."""
    events = (*reader.events(batch.id, strict=False), *and_said)
    packaging = packaging_of(events) or Packaging("", batch.packaged_at or batch.pitched_at)
    settings = settings_of(reader, batch)
    return InPackage(
        batch=batch,
        packaging=packaging,
        conditioning=conditioning_of(batch, packaging, events, now, settings, stood(reader, packaging, now)),
        events=events,
        judgement=reader.judgement(batch.id),
        alarms=tuple(alarm for alarm in alarms if alarm.subject == About.BATCH.of(batch.id)),
    )
