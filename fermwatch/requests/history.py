"""A recorded log taken in as history of a fermenter, part by part; a part taken in twice is there once."""

from datetime import timedelta
from functools import reduce
from operator import or_

from fermwatch.clock import from_ms, to_ms
from fermwatch.errors import RequestRefused
from fermwatch.model.believable import screen
from fermwatch.model.quantity import CANONICAL_UNIT
from fermwatch.model.reading import Flag, Reading
from fermwatch.model.subject import About
from fermwatch.requests.ledger import Done, Ledger, Who
from fermwatch.requests.shapes import Recorded

MOST_READINGS = 1000  # in one request: others wait for the store meanwhile
SOON = timedelta(minutes=2)
_KNOWN = int(reduce(or_, Flag))
_NOT_OF_THE_VALUE = Flag.CLOCK_UNSURE | Flag.AHEAD  # what only the watcher's own clock can tell


def take_in(ledger: Ledger, asked: Recorded, who: Who) -> Done:
    if not ledger.has_vessel(asked.vessel):
        raise RequestRefused(f"There is no fermenter {asked.vessel} in the configuration.")
    series = ledger.series_of(asked.vessel, asked.quantity)
    if series is None:
        raise RequestRefused(f"The fermenter {asked.vessel} has no {asked.quantity} probe to put the log under.")
    if not len(asked.at_ms) == len(asked.values) == len(asked.flags):
        raise RequestRefused("A part of the log has not as many times as values.")
    now_ms, latest_ms = to_ms(who.now), to_ms(who.now + SOON)
    if any(not 0 <= at_ms <= latest_ms for at_ms in asked.at_ms):
        raise RequestRefused(f"The log holds times that are yet to come: now it is {who.now:%Y-%m-%d %H:%M} UTC.")
    rows = zip(asked.at_ms, asked.values, asked.flags, strict=True)
    unit = CANONICAL_UNIT[asked.quantity]
    readings = [
        Reading(
            series,
            at_ms,
            value,
            max(now_ms - at_ms, 1),
            flags=_flags(flags) | screen(asked.quantity, value, said=value, unit=unit),
        )
        for at_ms, value, flags in rows
    ]
    new = ledger.add_readings(readings)
    until = f" until {from_ms(max(asked.at_ms)):%Y-%m-%d}" if asked.at_ms else ""
    told = f"{who.user} took a recorded log into {asked.vessel}{until}."
    text = told if asked.last else f"{len(readings)} readings taken in, {len(readings) - new} of them there already."
    return Done(About.FERMENTER.of(asked.vessel), text, is_news=asked.last)


def _flags(number: int) -> Flag:
    """As whoever sends them weighed them against each other; what one value alone shows is looked at again here."""
    if number & ~_KNOWN:
        raise RequestRefused(f"{number:.6g} is no flag of a reading.")
    return Flag(number) & ~_NOT_OF_THE_VALUE
