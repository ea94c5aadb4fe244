"""Real series as a fermenter's probe would say them: as a log in a file, or live, decided upon twice an hour."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

from fermwatch.alarms.life import Transition
from fermwatch.model.batch import Batch
from fermwatch.model.quantity import Quantity
from fermwatch.model.yeast import Yeast
from fermwatch.replaying.input import read_log
from fermwatch.replaying.replay import replay
from fermwatch.rules.situation import WINDOW, GoodReading, ProbeState, Situation
from fermwatch.watching.deciding import Decider
from tests.reference.open_data.sources import Course

MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
TICK = 30 * MINUTE


@dataclass(frozen=True, slots=True)
class Told:
    at: datetime
    rule: str
    what: Transition
    quiet_because: str


def batch(pitched_at: datetime, low_c: float, high_c: float) -> Batch:
    """An invented ale whose yeast likes this range."""
    return Batch("one", "Invented", "left", 1.050, pitched_at, 20.0, Yeast("ale", "an ale", low_c, high_c, 0.72, 0.78))


def write_log(path: Path, course: Sequence[GoodReading], probe: str = "beer", quantity: str = "temperature_C") -> Path:
    rows = [f"{sample.at.isoformat()},{probe},{quantity},{sample.value}" for sample in course]
    path.write_text("\n".join(["time,probe,quantity,value", *rows]) + "\n", encoding="utf-8")
    return path


def alarms_of_log(path: Path, brewed: Batch) -> list[Told]:
    """What a replay of the log raises and clears."""
    return [_told(event) for event in replay(read_log(path), brewed) if event["event"] == "alarm"]


def _told(event: dict[str, Any]) -> Told:
    at = datetime.fromisoformat(event["at"])
    return Told(at, event["rule"], Transition(event["state"]), event["quiet_because"])


def alarms_of(course: Course, brewed: Batch, silent_after: timedelta) -> list[Told]:
    """What the rules say live of a beer temperature, from its first reading in beer to its last."""
    decider, told, now = Decider(), list[Told](), max(course[0].at, brewed.pitched_at)
    times = [sample.at for sample in course]
    while now <= course[-1].at:
        heard = bisect_right(times, now)
        probe = ProbeState("beer", Quantity.BEER_TEMPERATURE, silent_after.total_seconds(), times[heard - 1])
        recent = course[bisect_right(times, now - WINDOW) : heard]
        changes = decider.decide(Situation(now, brewed.vessel, brewed, beer=recent, probes=(probe,)))
        told += [
            Told(now, change.alarm.rule, transition, change.alarm.suppressed_by)
            for change in changes
            for transition in change.transitions
        ]
        now += TICK
    return told


def when(told: Sequence[Told], rule: str, what: Transition) -> list[datetime]:
    return [one.at for one in told if one.rule == rule and one.what is what]


def gaps(times: Sequence[datetime], longer_than: timedelta) -> list[tuple[datetime, datetime]]:
    """Where nothing was measured for so long: the last reading before, and the first after."""
    return [(before, after) for before, after in pairwise(times) if after - before > longer_than]


def is_told_of_exactly(
    told: Sequence[Told], silences: Sequence[tuple[datetime, datetime]], silent_after: timedelta, tick: timedelta
) -> None:
    """Silence is raised at the first decision after it is due, cleared at the first after the probe spoke again."""
    raised = when(told, "probe-silent", Transition.RAISED)
    cleared = when(told, "probe-silent", Transition.CLEARED)
    assert len(raised) == len(cleared) == len(silences)
    for (before, after), said, over in zip(silences, raised, cleared, strict=True):
        assert timedelta() < said - (before + silent_after) <= tick
        assert timedelta() <= over - after < tick
