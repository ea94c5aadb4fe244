"""What the probes of a fermenter said over a span of time: calibrated as it held then, flagged readings left out."""

from datetime import datetime, timedelta
from statistics import median

from fermwatch.clock import from_ms
from fermwatch.contracts.store import Reader
from fermwatch.model.believable import believable
from fermwatch.model.history import History
from fermwatch.model.quantity import Quantity

NEAR = timedelta(hours=1)
NEWEST = timedelta(minutes=15)

Said = list[tuple[datetime, float]]


def said(reader: Reader, vessel: str, quantity: Quantity, start: datetime, end: datetime) -> Said:
    """Instants and values in canonical units, in time order: of the first probe configured that has any, for as long
    as it served this fermenter."""
    history = History(reader.bindings())
    for series in reader.series(every=True):
        if series.probe.quantity is not quantity:
            continue
        found = [
            (from_ms(row.at_ms), part.calibration.apply(row.value))
            for part in history.parts(series.series, start, end)
            if part.vessel == vessel
            for row in reader.readings(series.series, part.start, part.end)
            if believable(row.flags)
        ]
        if found:
            return found
    return []


def around(reader: Reader, vessel: str, quantity: Quantity, at: datetime) -> float | None:
    """The median within an hour of an instant; None where nothing was heard."""
    values = [value for _, value in said(reader, vessel, quantity, at - NEAR, at + NEAR)]
    return median(values) if values else None


def newest(reader: Reader, vessel: str, quantity: Quantity, at: datetime) -> float | None:
    """The median of the last quarter of an hour heard; None where nothing was heard within the hour before."""
    heard = said(reader, vessel, quantity, at - NEAR, at)
    return median(value for then, value in heard if then > heard[-1][0] - NEWEST) if heard else None
