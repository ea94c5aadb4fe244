"""Everything that a rule may look at, for one fermenter at one instant."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from statistics import median

from fermwatch.model.batch import Batch, Event
from fermwatch.model.finding import Alarm
from fermwatch.model.judgement import Judgement
from fermwatch.model.quantity import Quantity

Key = tuple[str, str]  # (rule, subject)


@dataclass(frozen=True, slots=True)
class Sample:
    """One good, calibrated reading in its canonical unit."""

    at: datetime
    value: float


@dataclass(frozen=True, slots=True)
class ProbeState:
    """How a probe does. `flagged` says in words why its newest reading is not to be believed; empty where it is."""

    slug: str
    quantity: Quantity
    silent_after_s: float
    last_at: datetime | None = None
    flagged: str = ""
    source: str = ""
    source_lost: bool = False

    def silent(self, now: datetime) -> bool | None:
        """None where it was never heard: that is told apart from having fallen silent."""
        return None if self.last_at is None else now - self.last_at > timedelta(seconds=self.silent_after_s)


@dataclass(frozen=True, slots=True)
class Situation:
    """A fermenter now. Samples are of the last hours (at least `WINDOW`), oldest first.

    standing: the alarms as they are, so that a rule can apply its deadband.
    """

    now: datetime
    vessel: str
    batch: Batch | None = None
    judgement: Judgement | None = None
    events: tuple[Event, ...] = ()
    beer: tuple[Sample, ...] = ()
    set_point: tuple[Sample, ...] = ()
    output: tuple[Sample, ...] = ()
    probes: tuple[ProbeState, ...] = ()
    standing: Mapping[Key, Alarm] = field(default_factory=dict)

    def stands(self, rule: str, subject: str) -> bool:
        alarm = self.standing.get((rule, subject))
        return alarm is not None and alarm.stands


WINDOW = timedelta(hours=6)


def since(samples: tuple[Sample, ...], now: datetime, span: timedelta) -> tuple[Sample, ...]:
    """The samples of the last `span`, `now` included."""
    return tuple(sample for sample in samples if now - span < sample.at <= now)


def median_of(samples: tuple[Sample, ...], now: datetime, span: timedelta) -> float | None:
    """The median over the last `span`, or None where nothing was heard in it."""
    values = [sample.value for sample in since(samples, now, span)]
    return median(values) if values else None
