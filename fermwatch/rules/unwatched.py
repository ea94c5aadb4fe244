"""That nobody watched for a while, as in a power cut: told once it is over, with what the beers did meanwhile."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from fermwatch.model.amounts import temperature
from fermwatch.model.finding import Finding, Severity
from fermwatch.model.subject import About

UNWATCHED = "unwatched"
SUBJECT = About.SITE.of("watcher")


@dataclass(frozen=True, slots=True)
class Meanwhile:
    """What the beer of one fermenter did: read last before, and first after, in °C; None where nothing was.

    in_range: whether it is where it should be now; None where nobody can tell.
    """

    fermenter: str
    before_c: float | None
    after_c: float | None
    in_range: bool | None = None


def unwatched(length: timedelta, beers: Sequence[Meanwhile]) -> Finding:
    """Over, since somebody watches again."""
    hours = length / timedelta(hours=1)
    long = f"{hours / 24:.0f} days" if hours >= 48 else f"{hours:.0f} h" if hours >= 1.5 else f"{hours * 60:.0f} min"
    told = "; ".join(_beer(one) for one in beers)
    fine = bool(beers) and all(one.in_range for one in beers)
    rest = " Nothing to do." if fine else ""
    statement = f"the power was off, or the watcher was killed, for {long}{f': {told}' if told else ''}.{rest}"
    return Finding(UNWATCHED, SUBJECT, holds=False, severity=Severity.WARNING, statement=statement)


def _beer(one: Meanwhile) -> str:
    before = "not read before" if one.before_c is None else f"{temperature(one.before_c)} before"
    after = "not read since" if one.after_c is None else f"{temperature(one.after_c)} after"
    where = {True: ", in its range", False: ", outside its range", None: ""}[one.in_range]
    return f"{one.fermenter} {before}, {after}{where}"
