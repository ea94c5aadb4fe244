"""A packaged beer as the store knows it, for whoever shows or judges it."""

from collections.abc import Sequence
from datetime import datetime

from fermwatch.conditioning import conditioning_of
from fermwatch.contracts.feed import InPackage
from fermwatch.contracts.store import Reader
from fermwatch.model.batch import Batch
from fermwatch.model.finding import Alarm
from fermwatch.model.packaging import Packaging, packaging_of
from fermwatch.model.rule_settings import DEFAULTS, for_batch


def packaged_beer(reader: Reader, batch: Batch, now: datetime, alarms: Sequence[Alarm] = ()) -> InPackage:
    """`alarms`: those of the site that are worth showing."""
    events = reader.events(batch.id, strict=False)
    packaging = packaging_of(events) or Packaging("", batch.packaged_at or batch.pitched_at)
    settings = for_batch(DEFAULTS, batch.rule_settings) if batch.rule_settings else DEFAULTS
    return InPackage(
        batch=batch,
        packaging=packaging,
        conditioning=conditioning_of(batch, packaging, events, now, settings),
        events=events,
        judgement=reader.judgement(batch.id),
        alarms=tuple(alarm for alarm in alarms if alarm.subject == f"batch:{batch.id}"),
    )
