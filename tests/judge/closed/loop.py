"""One batch with its brewer: what the judge asks is answered, or not, and what it says at last is held to the truth.

The judge is the watcher's own (`judgement.judge.Judge`), told only what probes and people told by then.
"""

from copy import deepcopy
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np

from fermwatch.judgement.gates import HOPS_DAYS, Gate
from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import Batch, Event, EventKind, GravityMeasurement, PackageChoice
from fermwatch.model.finding import Phase, VerdictKind
from fermwatch.model.judgement import Verdict
from fermwatch.model.yeast import Yeast
from tests.judge import sensors
from tests.judge.closed.batches import Brew
from tests.judge.closed.habits import own_before
from tests.judge.corpus import PITCHED
from tests.judge.scenarios import LAGER, Random

EVENING_H, LATE_H = 18.0, 3.0  # looks between 18 and 21 h
FORCED_DAY, FORCED_SD = 4, 0.5
UNASKED_FROM_DAY = 7
FORECAST_AT = 0.75
BEGUN_POINTS, FLAT, RESTING_LEFT = 2.0, 1.5, 1.5  # points fallen, points/day, points left: as `score` counts them
OWN_BEFORE = (0, 1, 3)  # own batches, where the end is forecast


@dataclass(frozen=True)
class Mode:
    """What the brewer has and does. instruments: "probe" (with its thermometer), "thermometer" or "alone".

    own_before: how many earlier batches of that yeast are known.
    """

    name: str
    instruments: str
    forgets: float = 0.0
    most_readings: int = 1000
    unasked: bool = False
    forced: bool = False
    own_before: int = 0


MODES = (
    Mode("probe", "probe"),
    Mode("probe, two at most", "probe", most_readings=2),
    Mode("probe, forgets half", "probe", forgets=0.5),
    Mode("probe, measures unasked", "probe", unasked=True),
    Mode("probe, forced ferment", "probe", forced=True),
    Mode("thermometer", "thermometer"),
    Mode("thermometer, measures unasked", "thermometer", unasked=True),
    Mode("thermometer, forced ferment", "thermometer", forced=True),
    Mode("hydrometer alone", "alone"),
    Mode("hydrometer alone, measures unasked", "alone", unasked=True),
    Mode("probe, one of its own before", "probe", own_before=1),
    Mode("probe, three of its own before", "probe", own_before=3),
    Mode("thermometer, three of its own before", "thermometer", own_before=3),
    Mode("hydrometer alone, three of its own before", "alone", own_before=3),
)


@dataclass(frozen=True)
class Evening:
    """What was known and said on one evening. reading: taken then, points."""

    hour: float
    said: Verdict | None
    asked_h: float | None
    reading: float | None


@dataclass
class Outcome:
    """said_h: first `safe`, None where never.

    terminal_errors: points, at 75 % of attenuation, by how many own batches were known; middle_error: of the middle of
    the yeast's range. told_falsely: phases that were said on an evening on which the beer was in another one.
    """

    brew: Brew
    mode: Mode
    said_h: float | None = None
    readings: int = 0
    terminal_errors: dict[int, float] = field(default_factory=dict)
    middle_error: float | None = None
    evenings: list[Evening] = field(default_factory=list)
    told_falsely: set[Phase] = field(default_factory=set)

    @property
    def unmet(self) -> tuple[str, ...]:
        """What was still asked for on the last evening."""
        said = self.evenings[-1].said if self.evenings else None
        return () if said is None else tuple(one.name for one in said.evidence if not one.met)

    @property
    def early(self) -> bool:
        return self.said_h is not None and is_early(self.brew, self.said_h)

    @property
    def grave(self) -> bool:
        return self.said_h is not None and is_grave(self.brew, self.said_h)


def is_early(brew: Brew, said_h: float) -> bool:
    return brew.left(said_h) > 1.0


def is_grave(brew: Brew, said_h: float) -> bool:
    return brew.left(said_h) > 2.0 or (brew.left(said_h) > 1.0 and brew.decline(said_h) >= 0.5)


def is_false(brew: Brew, phase: Phase, hour: float) -> bool:
    """Whether it has begun, or goes on to ferment, or is done, although it is said now that it has not or does not.

    Of a wort that ends above its yeast's range nobody can tell; it is not counted.
    """
    if phase is Phase.NOT_STARTED:
        return brew.original - brew.gravity(hour) > BEGUN_POINTS
    goes_on = brew.decline(hour) >= FLAT or brew.left(hour) < RESTING_LEFT
    return phase is Phase.STALLED and brew.scenario != "finish_high" and goes_on


class Hydrometer:
    """One brewer's eye: its spread holds for the batch, and it reads to a whole point."""

    def __init__(self, brew: Brew, random: Random) -> None:
        self._brew, self._random = brew, random
        self._sd = float(random.uniform(0.5, 0.7))

    def read(self, hour: float) -> float:
        """Points."""
        return float(round(self._brew.gravity(hour) + float(self._random.normal(0.0, self._sd))))


def batch_of(brew: Brew, entered: float) -> Batch:
    """As the brewer entered it."""
    kind = brew.kind
    yeast = Yeast(
        kind.name, kind.name, kind.low_c, kind.high_c, kind.least, kind.most, 60.0 if kind is LAGER else 36.0,
        kind.tolerance_abv, diastatic=kind.diastatic, bottom_fermenting=kind is LAGER,
    )  # fmt: skip
    package = PackageChoice("heavy-glass" if kind.diastatic else "returnable-glass", 2.4, 25.0)
    name = f"{brew.simulator}-{brew.seed}"
    return Batch(name, name, "simulated", 1.0 + entered / 1000.0, PITCHED, 20.0, yeast, package=package)


def run(brew: Brew, mode: Mode) -> Outcome:
    """Every evening until `safe` is said or the batch's days are over."""
    random = np.random.default_rng([brew.seed, 3])
    hydrometer = Hydrometer(brew, np.random.default_rng([brew.seed, 4]))
    batch = batch_of(brew, hydrometer.read(0.0))
    judge = Judge(batch)
    judge.know_own_ends(own_before(brew, batch, mode.own_before))
    rows = _rows(brew, mode, random)
    outcome, asked_h, next_own_h, row = Outcome(brew, mode), None, UNASKED_FROM_DAY * 24.0, 0
    phase: Phase | None = None
    forced = brew.original * (1.0 - brew.attenuation) + float(random.normal(0.0, FORCED_SD))
    for day in range(1, int(brew.end_h / 24.0)):
        hour = day * 24.0 + float(random.uniform(0.0, LATE_H))
        while row < len(rows) and rows[row][0] <= hour:
            _tell(judge, rows[row])
            row += 1
        if brew.hops_h is not None and brew.hops_h <= hour < brew.hops_h + 48.0:
            judge.add_event(Event("hops", at(brew.hops_h), EventKind.DRY_HOP))
        if mode.forced and day == FORCED_DAY:
            data = {"gravity_sg": round(1.0 + forced / 1000.0, 4), "temperature_c": 25.0}
            judge.add_event(Event("forced", at(hour), EventKind.FORCED_FERMENT, data))
        if _sample_due(outcome, hour) and random.random() >= mode.forgets:
            judge.add_event(Event(f"smelt-{day}", at(hour), EventKind.DIACETYL_TEST, {"passed": True}))
        wanted = asked_h is not None and asked_h <= hour and random.random() >= mode.forgets
        own = mode.unasked and hour >= next_own_h
        reading = None
        if (wanted or own) and outcome.readings < mode.most_readings:
            reading = hydrometer.read(hour)
            outcome.readings += 1
            next_own_h = hour + float(random.choice([44.0, 68.0]))
            judge.add_measurement(GravityMeasurement(f"by-hand-{day}", at(hour), 1.0 + reading / 1000.0))
        judged = judge.judge_at_once(at(hour))
        verdict = judged.verdict
        asked_h = None if verdict is None or verdict.next_reading_at is None else _hour(verdict.next_reading_at)
        outcome.evenings.append(Evening(hour, verdict, asked_h, reading))
        phase_before, phase = phase, None if judged.phase is None else judged.phase.phase
        if phase is not None and phase is not phase_before and is_false(brew, phase, hour):
            outcome.told_falsely.add(phase)
        _note_forecasts(outcome, judge, batch, hour)
        if verdict is not None and verdict.kind is VerdictKind.SAFE:
            outcome.said_h = hour
            break
    return outcome


def _sample_due(outcome: Outcome, hour: float) -> bool:
    """Whether a warmed sample is asked for, some days after the hops; no simulated beer smells of butter."""
    hopped_h, said = outcome.brew.hops_h, outcome.evenings[-1].said if outcome.evenings else None
    if hopped_h is None or said is None or hour < hopped_h + HOPS_DAYS * 24.0:
        return False
    return any(one.name == str(Gate.HOPS) and not one.met for one in said.evidence)


def at(hour: float) -> datetime:
    return PITCHED + timedelta(hours=hour)


def _hour(instant: datetime) -> float:
    return (instant - PITCHED) / timedelta(hours=1)


def _rows(brew: Brew, mode: Mode, random: Random) -> sensors.Rows:
    days = brew.end_h / 24.0
    probe = replace(sensors.draw_float(random, days), interval_h=1.0)
    rows = sensors.temperature_rows(brew.truth, random, faults=False)[::2] if mode.instruments != "alone" else []
    if mode.instruments == "probe":
        rows += sensors.gravity_rows(brew.truth, probe, random)
    return sorted(rows, key=lambda one: one[0])


def _tell(judge: Judge, row: tuple[float, str, str, float]) -> None:
    hour, _, quantity, value = row
    if quantity == "gravity_SG":
        judge.add_gravity(at(hour), value)
    else:
        judge.add_temperature(at(hour), value)


def _note_forecasts(outcome: Outcome, judge: Judge, batch: Batch, hour: float) -> None:
    """The first from 75 % of attenuation on, by how much was known before; ordinary ends only."""
    brew = outcome.brew
    reached = (brew.original - brew.gravity(hour)) / (brew.original * brew.attenuation)
    if outcome.terminal_errors or reached < FORECAST_AT or not brew.due:
        return
    end = brew.original - brew.original * brew.attenuation
    for count in OWN_BEFORE:
        told = deepcopy(judge)
        told.know_own_ends(own_before(brew, batch, count))
        forecast = told.judge_at_once(at(hour)).forecast
        if forecast is not None:
            outcome.terminal_errors[count] = abs((forecast.terminal_sg - 1.0) * 1000.0 - end)
    middle = brew.original * (1.0 - (brew.kind.least + brew.kind.most) / 2.0)
    outcome.middle_error = abs(middle - end)


def by_thumb(brew: Brew, from_day: int, *, in_range: bool) -> tuple[float | None, int]:
    """When two readings 48 h apart first agree within a point, from a day on; and how many were read."""
    hydrometer = Hydrometer(brew, np.random.default_rng([brew.seed, 5, from_day]))
    before, count = None, 0
    for day in range(from_day, int(brew.end_h / 24.0), 2):
        reading = hydrometer.read(day * 24.0)
        count += 1
        reached = 1.0 - reading / brew.original
        inside = not in_range or brew.kind.least <= reached
        if before is not None and abs(before - reading) <= 1.0 and inside:
            return day * 24.0, count
        before = reading
    return None, count
