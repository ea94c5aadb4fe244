"""From a seed and a simulator to a batch with its truth."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from tests.judge import scenarios
from tests.judge.brew import Truth, ferment
from tests.judge.closed.pools import REST, Curve, Enzymes, drain
from tests.judge.scenarios import ALES, FARMHOUSE, LAGER, SAISON, WHEAT, Kind, Plan, Random

SAFE_POINTS, GRAVE_POINTS, FALLING = 1.0, 2.0, 0.5  # points left; points a day
SLOWEST_SEEN = 0.3  # points a day: an undeclared creep below this cannot be told from gravity
TIME_TO_SAY_H = 192.0
SIMULATORS = ("sugars", "pools")


@dataclass(frozen=True)
class Brew:
    """original, attenuation: as it truly is, points and 0..1. hops_h: when dry hops went in, as the brewer tells it."""

    seed: int
    simulator: str
    scenario: str
    kind: Kind
    original: float
    attenuation: float
    truth: Truth
    decidable: bool
    crash_h: float | None = None
    hops_h: float | None = None

    def gravity(self, hour: float) -> float:
        return float(np.interp(hour, self.truth.hours, self.truth.gravity))

    def left(self, hour: float) -> float:
        """Points that can still ferment, what enzymes free included."""
        return float(np.interp(hour, self.truth.hours, self.truth.potential))

    def decline(self, hour: float) -> float:
        """Points a day, over the twelve hours around."""
        return (self.gravity(hour - 6.0) - self.gravity(hour + 6.0)) * 2.0

    @property
    def end_h(self) -> float:
        return float(self.truth.hours[-1])

    @property
    def safe_h(self) -> float | None:
        """From when at most a point can still ferment."""
        safe = self.truth.potential <= SAFE_POINTS
        return float(self.truth.hours[int(np.argmax(safe))]) if bool(safe.any()) else None

    @property
    def due(self) -> bool:
        """Whether a careful brewer could and should come to `safe`: time enough, warm, and ended inside the range."""
        if self.safe_h is None or not self.decidable:
            return False
        until_h = self.end_h if self.crash_h is None else min(self.end_h, self.crash_h)
        reached = 1.0 - float(self.truth.gravity[-1]) / self.original
        least = (self.kind.least + self.kind.most) / 2.0 if self.scenario.startswith("stall") else self.kind.least
        return until_h - self.safe_h >= TIME_TO_SAY_H and least <= reached <= self.kind.most + 0.03


def brew(simulator: str, seed: int) -> Brew:
    """The batch of this seed; seeds go round the simulator's scenarios."""
    if simulator == "sugars":
        return _of_sugars(seed)
    if simulator == "pools":
        return _of_pools(seed)
    raise ValueError(f"no simulator {simulator!r}: one of {', '.join(SIMULATORS)}")


def _of_sugars(seed: int) -> Brew:
    random = np.random.default_rng([seed, 1])
    plan = SUGARS[seed % len(SUGARS)](random)
    truth = ferment(plan.wort, plan.strain, plan.course, plan.days)
    hops_h = plan.wort.release_from_h if plan.scenario == "hop_creep" else None
    undeclared = plan.wort.releasable > 0.0 and hops_h is None and not plan.kind.diastatic
    slow = undeclared and _creep(truth) < SLOWEST_SEEN
    return Brew(
        seed, "sugars", plan.scenario, plan.kind, plan.original, plan.attenuation, truth,
        decidable=plan.decidable and not slow, crash_h=plan.crash_h, hops_h=hops_h,
    )  # fmt: skip


def _creep(truth: Truth) -> float:
    """Points a day that enzymes free at most."""
    freed = truth.potential - truth.sugars
    return float(np.max(-np.diff(freed) / np.diff(truth.hours))) * 24.0


def _late(random: Random) -> Plan:
    plan = scenarios.normal(random)
    lag_h = plan.strain.lag_h * float(random.uniform(2.5, 5.0))
    return replace(plan, scenario="late_start", strain=replace(plan.strain, lag_h=lag_h))


def _weak(random: Random) -> Plan:
    plan = scenarios.normal(random)
    return replace(plan, scenario="weak_start", strain=replace(plan.strain, seed=float(random.uniform(0.01, 0.03))))


def _drops(random: Random) -> Plan:
    """Yeast drops out: more is left than its slowing says."""
    plan = scenarios.normal(random)
    from_left, times = float(random.uniform(2.0, 7.0)), float(random.uniform(2.5, 6.0))
    course = replace(plan.course, at_work=lambda _hour, left: 1.0 if left > from_left else 1.0 / times)
    return replace(plan, scenario="drops_early", course=course, days=plan.days + 10.0)


SUGARS: tuple[Callable[[Random], Plan], ...] = (
    scenarios.normal, scenarios.lager_rest, scenarios.slow_tail, scenarios.normal, scenarios.high_gravity, _drops,
    scenarios.finish_high, scenarios.fast, scenarios.finish_low, _late, scenarios.stall_cold, scenarios.hop_creep,
    scenarios.stall_flocculated, scenarios.normal, scenarios.stall_hidden, _weak, scenarios.stall_restart,
    scenarios.diastatic, scenarios.diastatic_undeclared, scenarios.cold, scenarios.wild_slow, scenarios.crash_early,
    scenarios.crash_after, scenarios.thermostat, scenarios.creep_half, scenarios.stall_alcohol,
)  # fmt: skip

POOLS = (
    "ale", "lager", "wheat", "ale", "strong", "drops_early", "ale", "finish_high", "slow_tail", "finish_low",
    "late_start", "stall_visible", "lager", "stall_hidden", "stall_restart", "dry_hopped", "diastatic", "wild_slow",
    "creep", "cold_wander", "crash_early", "ale",
)  # fmt: skip


def _of_pools(seed: int) -> Brew:
    random = np.random.default_rng([seed, 2])
    scenario = POOLS[seed % len(POOLS)]
    kind = _kind(scenario, random)
    original = float(random.uniform(75, 95) if scenario == "strong" else random.uniform(40, 66))
    attenuation = _attenuation(scenario, kind, random)
    fermentable = original * attenuation
    curve = _curve(scenario, kind, random)
    enzymes = _enzymes(scenario, random)
    days = 30.0 + 10.0 * (kind is LAGER or scenario in {"strong", "drops_early", "slow_tail"})
    crash_h = curve.half_way_h * float(random.uniform(2.0, 3.0)) if scenario == "crash_early" else None
    truth = drain(
        original, fermentable, curve, _temperature(scenario, kind, crash_h, random),
        _at_work(scenario, kind, original, attenuation, random), enzymes, days, random,
    )  # fmt: skip
    undeclared = scenario in {"wild_slow", "creep"}
    decidable = scenario not in {"stall_hidden", "wild_slow"} and not (undeclared and _creep(truth) < SLOWEST_SEEN)
    hops_h = enzymes.from_h if scenario == "dry_hopped" else None
    return Brew(seed, "pools", scenario, kind, original, attenuation, truth, decidable, crash_h, hops_h)


def _kind(scenario: str, random: Random) -> Kind:
    fixed = {"lager": LAGER, "wheat": WHEAT, "diastatic": SAISON}
    return fixed.get(scenario) or (*ALES, FARMHOUSE)[int(random.integers(5))]


def _attenuation(scenario: str, kind: Kind, random: Random) -> float:
    if scenario == "finish_high":
        return kind.least - float(random.uniform(0.02, 0.06))
    if scenario == "finish_low":
        return kind.most + float(random.uniform(0.01, 0.04))
    half = (kind.most - kind.least) / 2.0
    return (kind.least + kind.most) / 2.0 + half * float(random.uniform(-0.9, 0.9))


def _curve(scenario: str, kind: Kind, random: Random) -> Curve:
    half_way_h = (
        float(random.uniform(30, 60)) * (2.2 if kind is LAGER else 1.0) * (1.5 if scenario == "strong" else 1.0)
    )
    steepness = float(random.uniform(2.2, 4.5)) / half_way_h
    half_way_h += float(random.uniform(40, 80)) if scenario == "late_start" else 0.0
    slow = 2.5 if scenario == "slow_tail" else 1.0
    heavy = bool(random.random() < 0.4)
    return Curve(
        middle_c=(kind.low_c + kind.high_c) / 2.0,
        half_way_h=half_way_h,
        steepness_per_h=steepness,
        asymmetry=float(random.uniform(0.1, 1.5)),
        tail_share=float(random.uniform(0.05, 0.25)),
        tail_h=float(random.uniform(15, 40)) * slow * (4.0 if heavy else 1.0),
        power=float(random.uniform(2.5, 5.0)) if heavy else float(random.uniform(0.7, 1.0)),
        heavy=heavy,
    )


def _enzymes(scenario: str, random: Random) -> Enzymes:
    if scenario == "dry_hopped":
        return Enzymes(
            float(random.uniform(3, 8)), float(random.uniform(0.1, 0.4)) / 24.0, float(random.uniform(70, 150))
        )
    if scenario == "diastatic":
        return Enzymes(float(random.uniform(3, 8)), float(random.uniform(0.05, 0.15)) / 24.0, 60.0)
    if scenario in {"wild_slow", "creep"}:
        dextrins = float(random.uniform(4, 10))
        fastest = float(random.uniform(0.08, 0.25) if scenario == "wild_slow" else random.uniform(0.35, 1.2))
        return Enzymes(dextrins, fastest / dextrins / 24.0, float(random.uniform(40, 160)))
    return Enzymes()


def _temperature(scenario: str, kind: Kind, crash_h: float | None, random: Random) -> Callable[[float], float]:
    set_c = (kind.low_c + kind.high_c) / 2.0 + float(random.uniform(-1.5, 1.0))
    swing, period = float(random.uniform(0.1, 1.0)), float(random.uniform(18, 60))
    cold_from, cold_by = float(random.uniform(60, 140)), float(random.uniform(3, 6))

    def celsius(hour: float) -> float:
        if crash_h is not None and hour > crash_h:
            return 2.0 + (set_c - 2.0) * float(np.exp(-(hour - crash_h) / 8.0))
        away = cold_by if scenario == "cold_wander" and cold_from < hour < cold_from + 96.0 else 0.0
        return set_c - away + swing * float(np.sin(hour * 6.283 / period))

    return celsius


def _at_work(
    scenario: str, kind: Kind, original: float, attenuation: float, random: Random
) -> Callable[[float, float], float]:
    if scenario == "drops_early":
        from_left, times = float(random.uniform(2, 7)), float(random.uniform(2.5, 6))
        return lambda _hour, left: 1.0 if left > from_left else 1.0 / times
    if not scenario.startswith("stall"):
        return lambda _hour, _left: 1.0
    hidden = scenario == "stall_hidden"
    stopped_at = kind.least + 0.005 if hidden else kind.least - float(random.uniform(0.05, 0.2))
    from_left = max(original * (attenuation - stopped_at), 2.5)
    again_h = float(random.uniform(190, 330)) if scenario == "stall_restart" else float("inf")
    return lambda hour, left: 1.0 if left > from_left or hour > again_h else REST
