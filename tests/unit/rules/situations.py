"""Scripted situations: an ale in a fermenter, what its probes say, and a clock that moves."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta

from fermwatch.alarms.life import Transition
from fermwatch.contracts.store import ControllerStatus
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.finding import Phase
from fermwatch.model.judgement import Judgement, PhaseStatement, Trend
from fermwatch.model.rule_settings import DEFAULTS, RuleSettings
from fermwatch.model.yeast import Yeast
from fermwatch.rules.situation import WINDOW, GoodReading, Situation
from fermwatch.watching.deciding import Decider

START = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
ALE = Yeast("ale", "an invented ale yeast", 17.0, 21.0, 0.72, 0.78)
BATCH = Batch("one", "Invented ale", "left", 1.050, START - 2 * DAY, 19.0, ALE)
LEFT = "vessel:left"

Curve = Callable[[timedelta], float | None]


def steady(celsius: float) -> Curve:
    return lambda _: celsius


def event(kind: EventKind, at: datetime = START) -> Event:
    return Event(f"{kind}-{at:%d%H}", at, kind)


def trend(**changed: float) -> Trend:
    """Half way down, falling well."""
    usual = Trend(START, 1.030, 0.5, -8.0, 0.3, 0.40)
    return replace(usual, **changed)  # type: ignore[arg-type]


def judged(phase: Phase = Phase.ACTIVE, reason: str = "", **changed: float) -> Judgement:
    return Judgement(START, trend(**changed), PhaseStatement(phase, START, reason))


@dataclass
class Story:
    """Decides every five minutes over what is scripted, and notes what is told."""

    settings: RuleSettings = DEFAULTS
    batch: Batch | None = BATCH
    judgement: Judgement | None = None
    events: tuple[Event, ...] = ()
    every: timedelta = 5 * MINUTE  # between readings, and between decisions
    now: datetime = START
    told: list[tuple[timedelta, str, Transition]] = field(default_factory=list)
    _beer: list[GoodReading] = field(default_factory=list)
    _set_point: list[GoodReading] = field(default_factory=list)
    controller: ControllerStatus | None = None
    _cool: list[GoodReading] = field(default_factory=list)
    _heat: list[GoodReading] = field(default_factory=list)
    _air: list[GoodReading] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.decider = Decider(self.settings)

    def go_on(
        self,
        span: timedelta,
        beer: Curve,
        set_point: Curve = lambda _: None,
        *,
        air: Curve = lambda _: None,
        cool: Curve = lambda _: None,
        heat: Curve = lambda _: None,
    ) -> "Story":
        began, end = self.now, self.now + span
        said = (
            (self._beer, beer),
            (self._set_point, set_point),
            (self._air, air),
            (self._cool, cool),
            (self._heat, heat),
        )
        while self.now < end:
            self.now += self.every
            for samples, curve in said:
                value = curve(self.now - began)
                if value is not None:
                    samples.append(GoodReading(self.now, value))
            self.decide()
        return self

    def switch(self, states: Sequence[bool], every: timedelta) -> "Story":
        """The compressor's output."""
        for state in states:
            self.now += every
            self._cool.append(GoodReading(self.now, float(state)))
            self.decide()
        return self

    def decide(self) -> None:
        situation = Situation(
            now=self.now,
            vessel="left",
            batch=self.batch,
            judgement=self.judgement,
            events=self.events,
            beer=self._window(self._beer),
            set_point=self._window(self._set_point),
            cool=self._window(self._cool),
            heat=self._window(self._heat),
            air=self._window(self._air),
            controller=self.controller,
        )
        for change in self.decider.decide(situation):
            self.told += [(self.now - START, change.alarm.rule, transition) for transition in change.transitions]

    def _window(self, samples: list[GoodReading]) -> tuple[GoodReading, ...]:
        return tuple(one for one in samples if self.now - WINDOW < one.at <= self.now)

    def when(self, rule: str, transition: Transition) -> list[timedelta]:
        return [at for at, told, kind in self.told if told == rule and kind is transition]

    def standing(self) -> set[str]:
        return {alarm.rule for alarm in self.decider.alarms.values() if alarm.stands}
