"""The kinds of batches that are invented: an equal share of each. Seeds make them; nothing is drawn from real logs."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from tests.judge.brew import Course, Strain, Wort, ferment

Random = np.random.Generator


@dataclass(frozen=True)
class Kind:
    """A yeast as its packet has it. vigour: points/h in the middle of its range."""

    name: str
    low_c: float
    high_c: float
    least: float
    most: float
    tolerance_abv: float
    vigour: float
    diastatic: bool = False


CLEAN = Kind("clean ale", 17, 22, 0.73, 0.81, 10.5, 0.75)
FLOCCULENT = Kind("flocculent ale", 17, 21, 0.66, 0.75, 9.5, 0.75)
WHEAT = Kind("wheat", 18, 24, 0.72, 0.79, 10.0, 0.8)
ABBEY = Kind("abbey", 18, 26, 0.74, 0.84, 13.0, 0.85)
FARMHOUSE = Kind("farmhouse", 25, 35, 0.72, 0.82, 13.0, 1.2)
LAGER = Kind("lager", 8, 14, 0.70, 0.80, 10.0, 0.38)
SAISON = Kind("saison", 20, 30, 0.80, 0.93, 12.5, 0.8, diastatic=True)
ALES = (CLEAN, FLOCCULENT, WHEAT, ABBEY)


@dataclass(frozen=True)
class Plan:
    """One batch to be brewed and watched.

    readings: "probe" (hydrometer from a week on, every two to three days), "hand" (daily, no probe), "thin" (two after
    the pitch, no probe), "thin-probe" (two, and a probe).
    """

    scenario: str
    kind: Kind
    original: float
    attenuation: float
    wort: Wort
    strain: Strain
    course: Course
    days: float
    readings: str = "probe"
    decidable: bool = True
    crash_h: float | None = None


def _plain(random: Random, scenario: str, kind: Kind | None = None, original: float | None = None) -> Plan:
    if kind is None:
        kind = LAGER if random.random() < 0.2 else (*ALES, FARMHOUSE)[int(random.integers(5))]
    original = original if original is not None else float(random.uniform(40, 66))
    half = (kind.most - kind.least) / 2.0
    attenuation = (kind.least + kind.most) / 2.0 + half * float(np.clip(random.normal(0.0, 0.5), -0.95, 0.95))
    middle = (kind.low_c + kind.high_c) / 2.0
    set_c = middle + (kind.high_c - kind.low_c) * float(random.uniform(-0.25, 0.2))
    lager = kind is LAGER
    strain = Strain(
        optimum_c=middle,
        coldest_c=kind.low_c - 5.0,
        vigour=kind.vigour * float(random.uniform(0.5, 1.5)) * (original / 50.0) ** 0.7,
        lag_h=float(random.uniform(4, 12)) * (1.6 if lager else 1.0),
        activation_kj=float(random.uniform(50, 80)),
        settling_per_h=float(random.uniform(0.001, 0.012)) * (0.5 if lager else 1.0),
        tolerance_abv=kind.tolerance_abv * 1.6,
        seed=float(random.uniform(0.08, 0.25)),
        glucose=float(random.uniform(0.1, 0.2)),
        maltotriose=float(random.uniform(0.04, 0.18)),
        affinity=float(random.uniform(1, 6)),
    )
    phase, swing = float(random.uniform(0, 6.28)), float(random.uniform(0.1, 0.5))

    def temperature(hour: float) -> float:
        return set_c + swing * float(np.sin(hour / 24.0 * 6.283 + phase))

    return Plan(
        scenario,
        kind,
        original,
        attenuation,
        Wort(original, original * attenuation),
        strain,
        Course(temperature, exotherm_c=float(random.uniform(0.02, 0.12))),
        float(random.uniform(19, 28)) + (6.0 if lager else 0.0),
    )


def _an_ale(random: Random, scenario: str, original: float | None = None) -> Plan:
    return _plain(random, scenario, ALES[int(random.integers(len(ALES)))], original)


def _finish_at(plan: Plan, attenuation: float) -> Plan:
    return replace(plan, attenuation=attenuation, wort=replace(plan.wort, fermentable=plan.original * attenuation))


def _shifted(plan: Plan, shift: Callable[[float], float]) -> Plan:
    before = plan.course.temperature_c
    return replace(plan, course=replace(plan.course, temperature_c=lambda hour: before(hour) + shift(hour)))


def _held(plan: Plan, at_c: float, start_h: float, end_h: float = float("inf")) -> Plan:
    before = plan.course.temperature_c

    def temperature(hour: float) -> float:
        return at_c if start_h < hour < end_h else before(hour)

    return replace(plan, course=replace(plan.course, temperature_c=temperature))


def _at_work(plan: Plan, share: Callable[[float, float], float]) -> Plan:
    return replace(plan, course=replace(plan.course, at_work=share))


def _stop_at(plan: Plan, attenuation: float) -> Plan:
    left_then = plan.original * (plan.attenuation - attenuation)
    return _at_work(plan, lambda _hour, left: 1.0 if left > left_then else 0.002)


def _with_enzymes(plan: Plan, released: float, share_per_day: float, start_h: float) -> Plan:
    wort = replace(plan.wort, releasable=released, release_per_h=share_per_day / 24.0, release_from_h=start_h)
    return replace(plan, wort=wort)


def normal(random: Random) -> Plan:
    return _plain(random, "normal")


def fast(random: Random) -> Plan:
    plan = _plain(
        random, "fast", (CLEAN, WHEAT, ABBEY, FARMHOUSE)[int(random.integers(4))], float(random.uniform(36, 48))
    )
    return replace(plan, strain=replace(plan.strain, vigour=plan.strain.vigour * 1.7, lag_h=4.0))


def lager_rest(random: Random) -> Plan:
    plan = _plain(random, "lager_drest", LAGER)
    start = float(random.uniform(90, 140))
    return _shifted(plan, lambda hour: 5.0 * float(np.clip((hour - start) / 24.0, 0.0, 1.0)))


def high_gravity(random: Random) -> Plan:
    plan = _plain(random, "high_gravity", ABBEY, float(random.uniform(78, 95)))
    return replace(plan, days=plan.days + 6.0, strain=replace(plan.strain, tolerance_abv=24.0))


def slow_tail(random: Random) -> Plan:
    plan = _plain(random, "slow_tail")
    slow = replace(plan.strain, maltotriose=0.3, affinity=14.0, settling_per_h=0.02)
    return replace(plan, strain=slow, days=plan.days + 4.0)


def finish_high(random: Random) -> Plan:
    plan = _plain(random, "finish_high")
    return _finish_at(plan, plan.kind.least - float(random.uniform(0.02, 0.07)))


def finish_low(random: Random) -> Plan:
    plan = _plain(random, "finish_low")
    return _finish_at(plan, plan.kind.most + float(random.uniform(0.005, 0.04)))


def no_start(random: Random) -> Plan:
    late = float(random.uniform(90, 400))
    return _at_work(_plain(random, "no_start"), lambda hour, _left: 0.0 if hour < late else 1.0)


def stall_cold(random: Random) -> Plan:
    plan = _plain(random, "stall_cold")
    start = float(random.uniform(40, 75)) * (2.0 if plan.kind is LAGER else 1.0)
    cold_c = max(plan.kind.low_c - float(random.uniform(6.5, 9.0)), 0.5)
    return _held(plan, cold_c, start, start + float(random.uniform(120, 500)))


def stall_flocculated(random: Random) -> Plan:
    plan = _plain(random, "stall_floc")
    return _stop_at(plan, plan.attenuation * float(random.uniform(0.55, 0.85)))


def stall_alcohol(random: Random) -> Plan:
    plan = _an_ale(random, "stall_alcohol", float(random.uniform(88, 105)))
    limit = plan.original * plan.attenuation * 0.131 * float(random.uniform(0.78, 0.9))
    return replace(plan, strain=replace(plan.strain, tolerance_abv=limit))


def stall_restart(random: Random) -> Plan:
    plan = _plain(random, "stall_restart")
    stop = plan.original * plan.attenuation * float(random.uniform(0.2, 0.4))
    wakes = float(random.uniform(190, 280)) * (1.4 if plan.kind is LAGER else 1.0)
    resting = _at_work(plan, lambda hour, left: 1.0 if left > stop or hour > wakes else 0.004)
    return replace(resting, days=plan.days + 4)


def stall_hidden(random: Random) -> Plan:
    plan = _plain(random, "stall_hidden")
    plan = _finish_at(plan, plan.kind.most + float(random.uniform(-0.01, 0.03)))
    return replace(_stop_at(plan, plan.kind.least + float(random.uniform(0.01, 0.03))), decidable=False)


def diastatic(random: Random) -> Plan:
    plan = _finish_at(_plain(random, "diastatic", SAISON), float(random.uniform(0.74, 0.80)))
    return _with_enzymes(plan, plan.original * float(random.uniform(0.1, 0.17)), float(random.uniform(0.08, 0.3)), 24.0)


def diastatic_undeclared(random: Random) -> Plan:
    plan = _an_ale(random, "diastatic")
    released = plan.original * float(random.uniform(0.12, 0.18))
    return _with_enzymes(plan, released, float(random.uniform(0.06, 0.2)), 24.0)


def creep_half(random: Random) -> Plan:
    """Half a point a day, which a probe's drift may hide."""
    plan = replace(_an_ale(random, "diastatic"), days=20.0)
    return _with_enzymes(plan, 60.0, 0.5 / 56.0, 48.0)


def hop_creep(random: Random) -> Plan:
    plan = replace(_an_ale(random, "hop_creep"), days=26.0)
    start = float(random.uniform(60, 110))
    return _with_enzymes(plan, float(random.uniform(4, 8)), float(random.uniform(0.15, 0.35)), start)


def wild_slow(random: Random) -> Plan:
    plan = replace(_an_ale(random, "wild_slow"), decidable=False)
    released = float(random.uniform(4, 8))
    return _with_enzymes(plan, released, float(random.uniform(0.1, 0.25)) / released, 48.0)


def _bump(start: float, length: float, size: float) -> Callable[[float], float]:
    return lambda hour: size if start < hour < start + length else 0.0


def hot(random: Random) -> Plan:
    plan = _plain(random, "hot_excursion")
    size = plan.kind.high_c - plan.kind.low_c + float(random.uniform(1, 5))
    return _shifted(plan, _bump(float(random.uniform(20, 90)), float(random.uniform(12, 60)), size))


def cold(random: Random) -> Plan:
    plan = _plain(random, "cold_excursion")
    size = (plan.kind.high_c - plan.kind.low_c) / 2.0 + float(random.uniform(1, 3.5))
    return _shifted(plan, _bump(float(random.uniform(20, 90)), float(random.uniform(12, 48)), -size))


def thermostat(random: Random) -> Plan:
    half, size = float(random.uniform(3, 10)), float(random.uniform(1.0, 2.5))
    return _shifted(_plain(random, "thermostat"), lambda hour: size if int(hour / half) % 2 else -size)


def _crash(plan: Plan, share: float, later_h: float) -> Plan:
    """Chilled some hours after this share of its sugars is gone."""
    truth = ferment(plan.wort, plan.strain, plan.course, plan.days)
    reached = truth.sugars <= plan.original * plan.attenuation * (1.0 - share)
    hour = later_h + (float(truth.hours[int(np.argmax(reached))]) if reached.any() else plan.days * 18.0)
    return replace(_held(plan, 2.0, hour), crash_h=hour)


def crash_early(random: Random) -> Plan:
    return _crash(_plain(random, "crash_early"), float(random.uniform(0.88, 0.96)), 0.0)


def crash_after(random: Random) -> Plan:
    return _crash(_plain(random, "crash_after"), 0.995, float(random.uniform(72, 200)))


def hand_only(random: Random) -> Plan:
    return replace(_plain(random, "manual_only"), readings="hand")


def hand_creep(random: Random) -> Plan:
    return replace(diastatic_undeclared(random), readings="hand")


def thinned(random: Random) -> Plan:
    return replace(_plain(random, "thinned"), readings="thin", days=26.0)


def thinned_creep(random: Random) -> Plan:
    return replace(diastatic_undeclared(random), readings="thin", days=26.0)


def thinned_by_probe(random: Random) -> Plan:
    return replace(_plain(random, "thinned_probe"), readings="thin-probe", days=26.0)


SCENARIOS: tuple[Callable[[Random], Plan], ...] = (
    normal, fast, lager_rest, high_gravity, slow_tail, finish_high, finish_low, no_start, stall_cold,
    stall_flocculated, stall_alcohol, stall_restart, stall_hidden, diastatic, diastatic_undeclared, creep_half,
    hop_creep, wild_slow, hot, cold, thermostat, crash_early, crash_after, hand_only, hand_creep, thinned,
    thinned_creep, thinned_by_probe,
)  # fmt: skip
