"""From a raw reading to a row: bound to its series, converted once, timed and screened. Pure."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.clock import to_ms
from fermwatch.contracts.driver import Rejection
from fermwatch.contracts.store import Latest, StoredProbe
from fermwatch.errors import InputError
from fermwatch.model.believable import screen
from fermwatch.model.reading import Flag, RawReading, Reading
from fermwatch.units import to_canonical

# A device's own time is believed so far from the time of receipt: a queue may be weeks old, a clock little ahead.
OLDEST = timedelta(days=60)
AHEAD = timedelta(minutes=2)

ByChannel = Mapping[tuple[str, str], StoredProbe]  # (source, channel) -> series


@dataclass(frozen=True, slots=True)
class Converted:
    """What became of one raw reading: exactly one of these is set. A channel that no probe has is `unbound`."""

    reading: Reading | None = None
    last_known: Latest | None = None
    rejection: Rejection | None = None
    unbound: str = ""


def convert(source: str, raw: RawReading, bindings: ByChannel) -> Converted:
    """The row for a raw reading, or why there is none."""
    series = bindings.get((source, raw.channel))
    if series is None:
        return Converted(unbound=raw.channel)
    probe = series.probe
    if not math.isfinite(raw.value):
        return Converted(rejection=Rejection("not a finite number", channel=raw.channel))
    try:
        value = to_canonical(raw.value, raw.unit or probe.unit, probe.quantity)
    except InputError as error:
        return Converted(rejection=Rejection(error.message, sample=f"{raw.value:g}", channel=raw.channel))
    at, unsure = believed_time(raw.measured_at, raw.received_at)
    said = raw.value if raw.unit is None else None
    flags = screen(probe.quantity, value, said=said, unit=probe.unit)
    flags |= Flag.CLOCK_UNSURE if unsure else Flag.GOOD
    if raw.retained:
        age_known = raw.measured_at is not None and not unsure
        return Converted(last_known=Latest(series.series, at, value, flags, last_known=True, age_known=age_known))
    lag_ms = to_ms(raw.received_at) - to_ms(at)
    return Converted(
        reading=Reading(
            series=series.series,
            at_ms=to_ms(at),
            value=value,
            lag_ms=lag_ms,
            sequence=raw.sequence,
            flags=flags,
            redelivered=raw.redelivered,
            message_id=raw.message_id,
        )
    )


def believed_time(measured_at: datetime | None, received_at: datetime) -> tuple[datetime, bool]:
    """Device time where plausible, else time of receipt; True where the device's had to be set aside."""
    if measured_at is None:
        return received_at, False
    if received_at - OLDEST <= measured_at <= received_at + AHEAD:
        return measured_at, False
    return received_at, True
