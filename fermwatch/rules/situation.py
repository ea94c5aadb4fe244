"""Everything that a rule may look at, for one fermenter at one instant."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from statistics import median

from fermwatch.brewing.attenuation import expected
from fermwatch.contracts.store import ControllerStatus
from fermwatch.model.batch import Batch, Event
from fermwatch.model.conditioning import Stood
from fermwatch.model.degree import Degree
from fermwatch.model.finding import Alarm, Phase
from fermwatch.model.intent import Course, course_of, warmed_at
from fermwatch.model.judgement import Judgement
from fermwatch.model.quantity import Quantity

Key = tuple[str, str]  # (rule, subject)
HYDROMETER_READING = "hydrometer reading"  # as the judgement calls that evidence
HEAT_MATTERS_UNTIL = 0.75  # apparent attenuation as a share of what is expected (common practice)


@dataclass(frozen=True, slots=True)
class GoodReading:
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

    air: of the fridge. cool, heat: what outputs were, 0..1. controller: that which fermwatch may do more with than
    read.
    store, stood: of a packaged beer, where it stands: the last hours, and the means since it was packaged.
    standing: the alarms as they are, so that a rule can apply its deadband.
    """

    now: datetime
    vessel: str
    batch: Batch | None = None
    judgement: Judgement | None = None
    events: tuple[Event, ...] = ()
    beer: tuple[GoodReading, ...] = ()
    set_point: tuple[GoodReading, ...] = ()
    air: tuple[GoodReading, ...] = ()
    cool: tuple[GoodReading, ...] = ()
    heat: tuple[GoodReading, ...] = ()
    controller: ControllerStatus | None = None
    probes: tuple[ProbeState, ...] = ()
    store: tuple[GoodReading, ...] = ()
    stood: tuple[Stood, ...] = ()
    standing: Mapping[Key, Alarm] = field(default_factory=dict)

    @property
    def phase(self) -> Phase | None:
        judged = self.judgement
        return judged.phase.phase if judged is not None and judged.phase is not None else None

    @property
    def course(self) -> Course:
        """What was declared of the temperature."""
        return course_of(self.events, self.now, warmed_at(self.standing.values(), self.vessel))

    @property
    def attenuated(self) -> float | None:
        """How far it is on its way: apparent attenuation as a share of the middle of what is expected."""
        if self.batch is None or self.judgement is None or self.judgement.trend is None:
            return None
        return self.judgement.trend.apparent_attenuation / max(expected(self.batch).middle, 0.01)

    @property
    def late(self) -> bool:
        """Whether most of the fermentation is over, after which heat does little to the flavour."""
        return self.attenuated is not None and self.attenuated >= HEAT_MATTERS_UNTIL

    @property
    def read_by_hand(self) -> bool:
        """Whether a hydrometer reading is fresh enough to go by, as judged."""
        verdict = None if self.judgement is None else self.judgement.verdict
        return verdict is not None and any(one.met for one in verdict.evidence if one.name == HYDROMETER_READING)

    @property
    def aim_c(self) -> float | None:
        """What the controller goes by: what the plan wants where fermwatch drives it, else the set point it shows."""
        if self.driven and self.controller is not None:
            return self.controller.aim_c
        return self.set_point[-1].value if self.set_point else None

    @property
    def driven(self) -> bool:
        """Whether fermwatch switches its outputs."""
        return self.controller is not None and self.controller.degree is Degree.DRIVE

    @property
    def by_plan(self) -> bool:
        """Whether fermwatch itself sets or drives it, so that a knob that is turned does not stay where it is."""
        at_work = self.controller is not None and self.controller.degree is not Degree.OBSERVE
        return at_work and self.controller is not None and self.controller.target_c is not None

    def teller(self, subject: str, *rules: str) -> str:
        """The first of these rules whose alarm speaks of it, which tells of the same cause; empty where none does."""
        return next((rule for rule in rules if self.speaks(rule, subject)), "")

    def stands(self, rule: str, subject: str) -> bool:
        alarm = self.standing.get((rule, subject))
        return alarm is not None and alarm.stands

    def speaks(self, rule: str, subject: str) -> bool:
        """Whether an alarm stands that its own rule does not keep quiet."""
        alarm = self.standing.get((rule, subject))
        return alarm is not None and alarm.stands and not alarm.suppressed_by


WINDOW = timedelta(hours=6)


def since(samples: tuple[GoodReading, ...], now: datetime, span: timedelta) -> tuple[GoodReading, ...]:
    """The samples of the last `span`, `now` included."""
    return tuple(sample for sample in samples if now - span < sample.at <= now)


def median_of(samples: tuple[GoodReading, ...], now: datetime, span: timedelta) -> float | None:
    """The median over the last `span`, or None where nothing was heard in it."""
    values = [sample.value for sample in since(samples, now, span)]
    return median(values) if values else None


def slope_c_per_h(samples: tuple[GoodReading, ...]) -> float | None:
    """Slope of the line through the medians of the first and the last third, °C per hour: a door that stood open for a
    while bends it little (the resistant line of Tukey, Exploratory Data Analysis, 1977, chapter 10).

    None from fewer than four samples or less than half an hour.
    """
    if len(samples) < 4 or samples[-1].at - samples[0].at < timedelta(minutes=30):
        return None
    began, ended = samples[0].at, samples[-1].at
    third = (ended - began) / 3
    first = [sample for sample in samples if sample.at <= began + third]
    last = [sample for sample in samples if sample.at >= ended - third]
    rise_c = median(sample.value for sample in last) - median(sample.value for sample in first)
    return rise_c / (_middle_h(last, began) - _middle_h(first, began))


def _middle_h(samples: Sequence[GoodReading], began: datetime) -> float:
    return median((sample.at - began) / timedelta(hours=1) for sample in samples)
