"""What happened while nobody watched: found at the start, and told once the beers have spoken again."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fermwatch.contracts.store import Writer
from fermwatch.errors import UnreadableRow
from fermwatch.model.believable import believable
from fermwatch.model.finding import Alarm, Condition
from fermwatch.model.history import History
from fermwatch.model.intent import band_of, course_of, outside
from fermwatch.model.quantity import Quantity
from fermwatch.rules.unwatched import SUBJECT, UNWATCHED, Meanwhile, unwatched
from fermwatch.watching.deciding import AlarmChange
from fermwatch.watching.judges import Following, Judges
from fermwatch.watching.keeper import Keeper
from fermwatch.watching.memory import Memory

SHORTEST = timedelta(minutes=30)
LONGEST = timedelta(days=60)  # beyond that it is the clock that was wrong, or another brewer's season
WAITS = timedelta(minutes=15)  # for the beers to speak again


@dataclass(frozen=True, slots=True)
class Absence:
    """before_c: what was read when it began, by the fermenter that each probe was in then."""

    since: datetime
    until: datetime
    before_c: Mapping[str, float]


def found(store: Writer, now: datetime) -> Absence | None:
    """The time before this start in which nobody watched, unless somebody had stopped the watcher."""
    try:
        last = store.watcher()
    except UnreadableRow:
        return None  # a newer version's: of when it ended nothing is known
    if last is None or last.stopped or not SHORTEST <= now - last.now <= LONGEST:
        return None
    history, latest, before_c = History(store.bindings()), store.latest(), dict[str, float]()
    for one in store.series(every=True):  # one that was taken away meanwhile read the beer all the same
        heard = latest.get(one.series)
        if one.probe.quantity is not Quantity.BEER_TEMPERATURE or heard is None or not believable(heard.flags):
            continue
        if last.now - heard.at <= timedelta(seconds=one.probe.silent_after_s):
            vessel = history.vessel(one.series, heard.at)
            before_c.setdefault(vessel, history.calibrated(one.series, heard.at, heard.value))
    return Absence(last.now, now, before_c)


def told(
    absence: Absence, judges: Judges, store: Writer, memory: Memory, keeper: Keeper, now: datetime
) -> list[AlarmChange] | None:
    """What changes: it is over. None while a beer that was read before has not spoken again, and there is time."""
    meanwhile = []
    for vessel in store.vessels():
        following = judges.in_vessel(vessel.slug)
        heard = memory.last_good(vessel.slug, Quantity.BEER_TEMPERATURE, now)
        after_c = heard.value if heard is not None and heard.at >= absence.until else None
        before_c = absence.before_c.get(vessel.slug)
        if following is None or (before_c is None and after_c is None):
            continue
        if after_c is None and now - absence.until < WAITS:
            return None
        in_range = None if after_c is None else _in_range(following, store, after_c, now)
        meanwhile.append(Meanwhile(vessel.name or vessel.slug, before_c, after_c, in_range))
    finding = unwatched(absence.until - absence.since, meanwhile)
    before = keeper.decider.alarms.get((UNWATCHED, SUBJECT)) or Alarm(UNWATCHED, SUBJECT)
    over = replace(
        before,
        condition=Condition.NORMAL,
        severity=finding.severity,
        since=absence.until,
        raised_at=absence.since,
        cleared_at=absence.until,
        acknowledged_at=None,
        acknowledged_by="",
        occurrence=before.occurrence + 1,
        statement=finding.statement,
    )
    return keeper.decider.put(over, now)


def _in_range(following: Following, store: Writer, beer_c: float, now: datetime) -> bool:
    batch, judgement = following.batch, following.judgement
    band = band_of(batch.yeast, course_of(store.events(batch.id, strict=False), now), now)
    phase = judgement.phase.phase if judgement is not None and judgement.phase is not None else None
    return outside(beer_c, band, phase) is None
