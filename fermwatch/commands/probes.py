"""What the probes of a fermenter said over a span of time: calibrated as it held then, flagged readings left out."""

from datetime import datetime, timedelta
from statistics import median

from fermwatch.clock import from_ms
from fermwatch.commands.site import Site
from fermwatch.model.probe import Binding
from fermwatch.model.quantity import Quantity
from fermwatch.model.reading import Flag

NEAR = timedelta(hours=1)
NEWEST = timedelta(minutes=15)

Said = list[tuple[datetime, float]]


def said(site: Site, vessel: str, quantity: Quantity, start: datetime, end: datetime) -> Said:
    """Instants and values in canonical units, in time order; of the first probe configured that has any."""
    for series in site.reader.series():
        if series.probe.vessel != vessel or series.probe.quantity is not quantity:
            continue
        bindings = [one for one in site.reader.bindings() if one.series == series.series]
        rows = site.reader.readings(series.series, start, end)
        found = [
            (from_ms(row.at_ms), _calibrated(row.value, from_ms(row.at_ms), bindings))
            for row in rows
            if not row.flags & ~Flag.CLOCK_UNSURE
        ]
        if found:
            return found
    return []


def around(site: Site, vessel: str, quantity: Quantity, at: datetime) -> float | None:
    """The median within an hour of an instant; None where nothing was heard."""
    values = [value for _, value in said(site, vessel, quantity, at - NEAR, at + NEAR)]
    return median(values) if values else None


def newest(site: Site, vessel: str, quantity: Quantity, at: datetime) -> float | None:
    """The median of the last quarter of an hour heard; None where nothing was heard within the hour before."""
    heard = said(site, vessel, quantity, at - NEAR, at)
    return median(value for then, value in heard if then > heard[-1][0] - NEWEST) if heard else None


def _calibrated(value: float, at: datetime, bindings: list[Binding]) -> float:
    held = [one for one in bindings if one.valid_from <= at] or bindings[:1]
    return held[-1].calibration.apply(value) if held else value
