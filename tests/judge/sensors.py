"""What probes and people make of the truth: noise, drift, foam, floats that stick, gaps, outliers, codes, late rows."""

from dataclasses import dataclass

import numpy as np

from tests.judge.brew import Array, Truth

Rows = list[tuple[float, str, str, float]]  # hour, probe, quantity, value


@dataclass(frozen=True)
class Float:
    """A gravity probe in the beer. All in points, hours."""

    noise: float
    drift: float
    offset: float
    resolution: float
    interval_h: float
    temperature_share: float
    foam: float
    gap_h: tuple[float, float] | None
    stuck_h: tuple[float, float] | None
    outliers: float


def draw_float(random: np.random.Generator, days: float) -> Float:
    drift = random.choice([0.0, float(random.normal(0.0, 0.2)), 0.5, -0.5], p=[0.35, 0.35, 0.15, 0.15])
    gap = (float(random.uniform(40, days * 20)), float(random.uniform(6, 36))) if random.random() < 0.25 else None
    stuck = (float(random.uniform(30, days * 20)), float(random.uniform(3, 20))) if random.random() < 0.2 else None
    return Float(
        noise=float(random.uniform(0.5, 2.0)),
        drift=float(drift),
        offset=float(random.normal(0.0, 0.7)),
        resolution=float(random.choice([0.1, 0.5, 1.0], p=[0.5, 0.25, 0.25])),
        interval_h=float(random.choice([0.25, 0.5, 1.0])),
        temperature_share=float(random.choice([0.0, 0.5, 1.0]) + random.uniform(-0.1, 0.2)),
        foam=float(random.choice([0.1, 1.0, 3.0])),
        gap_h=gap,
        stuck_h=stuck,
        outliers=float(random.choice([0.0, 0.01, 0.02])),
    )


def gravity_rows(truth: Truth, probe: Float, random: np.random.Generator) -> Rows:
    hours = np.arange(0.0, truth.hours[-1], probe.interval_h)
    gravity = np.interp(hours, truth.hours, truth.gravity)
    beer_c = np.interp(hours, truth.hours, truth.temperature_c)
    decline = -np.gradient(gravity, hours) * 24.0
    raw = gravity + probe.offset + probe.drift * hours / 24.0 + probe.temperature_share * density_points(beer_c)
    raw += probe.foam * np.clip(decline / 12.0, 0.0, 1.0) * _wander(len(hours), probe.interval_h / 4.0, random)
    raw += random.normal(0.0, probe.noise, len(hours))
    wild = random.random(len(hours)) < probe.outliers
    raw[wild] += random.normal(0.0, 25.0, int(wild.sum()))
    kept = np.ones(len(hours), dtype=bool)
    if probe.gap_h:
        kept &= (hours < probe.gap_h[0]) | (hours > sum(probe.gap_h))
    if probe.stuck_h:
        held = (hours >= probe.stuck_h[0]) & (hours <= sum(probe.stuck_h))
        if held.any():
            raw[held] = raw[np.argmax(held)]
    raw = np.round(raw / probe.resolution) * probe.resolution
    return [
        (float(hour), "G1", "gravity_SG", 1.0 + float(value) / 1000.0)
        for hour, value in zip(hours[kept], raw[kept], strict=True)
    ]


def temperature_rows(truth: Truth, random: np.random.Generator, *, faults: bool) -> Rows:
    interval_h = float(random.choice([1 / 6, 0.25, 0.5]))
    hours = np.arange(0.0, truth.hours[-1], interval_h)
    beer_c = np.interp(hours, truth.hours, truth.temperature_c) + random.normal(0.0, 0.08, len(hours))
    beer_c = np.round(beer_c * 16.0) / 16.0
    if faults:
        wrong = random.random(len(hours)) < 0.004
        beer_c[wrong] = random.choice([85.0, -127.0], int(wrong.sum()))
    return [(float(hour), "T1", "temperature_C", float(c)) for hour, c in zip(hours, beer_c, strict=True)]


def hydrometer_rows(truth: Truth, hours: Array, random: np.random.Generator) -> Rows:
    """Read to half a point."""
    sd = float(random.uniform(0.4, 0.8))
    read = np.interp(hours, truth.hours, truth.gravity) + random.normal(0.0, sd, len(hours))
    read = np.round(read * 2.0) / 2.0
    return [
        (float(hour), "hydrometer", "gravity_SG", 1.0 + float(value) / 1000.0)
        for hour, value in zip(hours, read, strict=True)
    ]


def arrival(rows: Rows, random: np.random.Generator, *, faults: bool) -> Rows:
    """In the order of arrival: some rows twice, some late."""
    rows = sorted(rows, key=lambda row: row[0])
    if not faults:
        return rows
    order = np.arange(len(rows), dtype=np.float64)
    late = random.random(len(rows)) < 0.01
    order[late] += random.uniform(2, 40, int(late.sum()))
    doubled = [(place + 0.5, row) for place, row in zip(order, rows, strict=True) if random.random() < 0.01]
    arrived = [*zip(order.tolist(), rows, strict=True), *doubled]
    return [row for _, row in sorted(arrived, key=lambda pair: pair[0])]


def density_points(celsius: Array) -> Array:
    """Water against 20 °C, points: a cubic through handbook densities, good to 0.1 point from 0 to 35 °C."""
    warm = celsius - 20.0
    return np.asarray(-0.2074 * warm - 0.00506 * warm**2 + 0.0000410 * warm**3)


def _wander(count: int, share: float, random: np.random.Generator) -> Array:
    """AR(1) noise of unit variance that forgets in about four hours."""
    keep = float(np.exp(-share))
    noise = random.normal(0.0, np.sqrt(1.0 - keep**2), count)
    wander = np.empty(count)
    value = 0.0
    for place in range(count):
        value = keep * value + noise[place]
        wander[place] = value
    return wander
