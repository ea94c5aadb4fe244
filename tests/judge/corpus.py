"""From a seed to a log with its truth, in the form that the grading script reads."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.judge import sensors
from tests.judge.brew import Array, Truth, ferment
from tests.judge.scenarios import LAGER, SCENARIOS, Plan

Flags = NDArray[np.bool_]

PITCHED = datetime(2026, 3, 1, 18, tzinfo=UTC)
STALLED_DECLINE, STALLED_LEFT, STALLED_H = 0.7, 2.5, 24.0


@dataclass(frozen=True)
class Log:
    """rows: (instant, probe, quantity, value) in order of arrival. label: what was so, as the grading script has it."""

    rows: list[tuple[datetime, str, str, float]]
    label: dict[str, Any]


def make(seed: int) -> Log:
    """The log of this seed; seeds go round the scenarios."""
    random = np.random.default_rng(seed)
    plan = SCENARIOS[seed % len(SCENARIOS)](random)
    truth = ferment(plan.wort, plan.strain, plan.course, plan.days)
    rows = _observed(plan, truth, random)
    entered = 1.0 + round(plan.original + float(random.normal(0.0, 0.5))) / 1000.0
    instants = [(PITCHED + timedelta(hours=hour), probe, quantity, value) for hour, probe, quantity, value in rows]
    return Log(instants, label_of(seed, plan, truth, entered))


def _observed(plan: Plan, truth: Truth, random: np.random.Generator) -> sensors.Rows:
    faults = bool(random.random() < 0.3)
    rows = sensors.temperature_rows(truth, random, faults=faults)
    if plan.readings in {"probe", "thin-probe"}:
        rows += sensors.gravity_rows(truth, sensors.draw_float(random, plan.days), random)
    rows += sensors.hydrometer_rows(truth, _reading_hours(plan, random), random)
    return sensors.arrival(rows, random, faults=faults)


def _reading_hours(plan: Plan, random: np.random.Generator) -> Array:
    end = plan.days * 24.0 - 1.0
    if plan.readings == "hand":
        daily = np.arange(24.0, end, 24.0)
        return np.asarray(daily + random.uniform(-3, 3, len(daily)))
    first = float(random.uniform(140, 240))
    if plan.readings.startswith("thin"):
        return np.array([0.3, first + 48.0, min(first + 48.0 + 7 * 24.0, end)])
    later = first + np.cumsum(random.uniform(40, 80, 20))
    return np.concatenate([[0.3, first], later[later < end]])


def label_of(seed: int, plan: Plan, truth: Truth, entered: float) -> dict[str, Any]:
    """What was so."""
    fallen = plan.original - truth.gravity
    safe = _first(truth.hours, truth.potential <= 1.0)
    stall = _stall(truth)
    started = _first(truth.hours, fallen > 2.0)
    latest_start = 72.0 if plan.kind is LAGER else 48.0
    step = 12 * 3
    return {
        "file": f"seed-{seed}",
        "scenario": plan.scenario,
        "readings": plan.readings,
        "decidable": plan.decidable,
        "original_gravity_true": 1.0 + plan.original / 1000.0,
        "original_gravity_entered": entered,
        "volume_l": 20.0,
        "yeast": {
            "kind": plan.kind.name,
            "temp_min_C": plan.kind.low_c,
            "temp_max_C": plan.kind.high_c,
            "attenuation_min": plan.kind.least,
            "attenuation_max": plan.kind.most,
            "alcohol_tolerance_abv": plan.kind.tolerance_abv,
            "diastatic": plan.kind.diastatic,
        },
        "pitch_time": _text(0.0),
        "log_end": _text(float(truth.hours[-1])),
        "true_primary_terminal_gravity": 1.0 + (plan.original - plan.wort.fermentable) / 1000.0,
        "earliest_safe_to_bottle": _text(safe),
        "safe_expected": _safe_expected(plan, truth, safe, stall),
        "stall": _stall_label(stall, plan, truth),
        "not_started": _text(0.0) if started is None or started > latest_start else None,
        "temperature_excursions": _excursions(plan, truth),
        "cold_crash_start": _text(plan.crash_h),
        "attenuation_times": {
            share: _text(_first(truth.hours, fallen >= float(share) * plan.wort.fermentable))
            for share in ("0.5", "0.75", "0.9")
        },
        "true_curve": {
            "hours_since_pitch": truth.hours[::step].tolist(),
            "gravity_SG": (1.0 + truth.gravity[::step] / 1000.0).tolist(),
            "points_still_fermentable": truth.potential[::step].tolist(),
        },
    }


def _stall(truth: Truth) -> tuple[float, float | None] | None:
    decline = -np.gradient(truth.gravity, truth.hours) * 24.0
    active = np.maximum.accumulate(decline > 2.0)
    flat = active & (decline < STALLED_DECLINE) & (truth.sugars >= STALLED_LEFT)
    for start, stop in _spans(flat):
        if truth.hours[stop - 1] - truth.hours[start] >= STALLED_H:
            return float(truth.hours[start]), None if stop >= len(flat) else float(truth.hours[stop])
    return None


def _stall_label(stall: tuple[float, float | None] | None, plan: Plan, truth: Truth) -> dict[str, Any] | None:
    if stall is None:
        return None
    gravity = float(np.interp(stall[0] + STALLED_H, truth.hours, truth.gravity))
    visible = gravity > plan.original * (1.0 - plan.kind.least) + 1.0
    return {"onset": _text(stall[0]), "end": _text(stall[1]), "above_expected_range": visible}


def _safe_expected(plan: Plan, truth: Truth, safe: float | None, stall: tuple[float, float | None] | None) -> bool:
    """Whether a careful observer could and should call it safe within the log."""
    if safe is None or plan.readings.startswith("thin"):
        return False
    until = min(truth.hours[-1], plan.crash_h if plan.crash_h is not None else float("inf"))
    reached = (plan.original - float(truth.gravity[-1])) / plan.original
    if stall is not None and reached < (plan.kind.least + plan.kind.most) / 2.0:
        return False
    return bool(until - safe >= 192.0 and plan.kind.least <= reached <= plan.kind.most + 0.03)


def _excursions(plan: Plan, truth: Truth) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for side, outside in (
        ("hot", truth.temperature_c - plan.kind.high_c),
        ("cold", plan.kind.low_c - truth.temperature_c),
    ):
        for start, stop in _spans(outside >= 0.5):
            hours = truth.hours[start:stop]
            if hours[-1] - hours[0] >= 3.0:
                must = bool(np.sum(outside[start:stop] >= 1.0) / 12.0 >= 6.0)
                span = {"start": _text(float(hours[0])), "end": _text(float(hours[-1]))}
                found.append({**span, "side": side, "must_detect": must})
    return found


def _spans(holds: Flags) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], holds.astype(int), [0]])))
    return [(int(start), int(stop)) for start, stop in zip(edges[::2], edges[1::2], strict=True)]


def _first(hours: Array, when: Flags) -> float | None:
    return float(hours[int(np.argmax(when))]) if bool(np.any(when)) else None


def _text(hour: float | None) -> str | None:
    return None if hour is None else (PITCHED + timedelta(hours=hour)).isoformat()
