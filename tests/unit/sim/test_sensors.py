"""Simulated probes: every flaw that can be set is seen, and nothing else."""

import random
from datetime import UTC, datetime, timedelta

import pytest

from fermwatch.model.quantity import Unit
from fermwatch_sim.sensors import USUAL_FLAWS, Fault, FaultKind, Flaws, Sensor, What, in_unit

START = datetime(2026, 3, 14, 18, tzinfo=UTC)


def sensor(unit: Unit = Unit.CELSIUS, seed: int = 7, **flaws: float) -> Sensor:
    return Sensor(unit=unit, every_s=60.0, flaws=Flaws(**flaws), chance=random.Random(seed), installed_at=START)


def readings(probe: Sensor, truth: float, count: int = 500) -> list[float]:
    said = []
    for minute in range(count):
        probe.follow(truth, 60.0)
        value = probe.read(START + timedelta(minutes=minute))
        if value is not None:
            said.append(value)
    return said


def test_a_flawless_probe_says_the_truth() -> None:
    assert set(readings(sensor(), 19.4)) == {19.4}


def test_it_says_nothing_before_it_has_felt_anything() -> None:
    assert sensor().read(START) is None


@pytest.mark.parametrize(
    ("unit", "value", "said"),
    [
        (Unit.CELSIUS, 19.4, 19.4),
        (Unit.FAHRENHEIT, 20.0, 68.0),
        (Unit.SG, 1.048, 1.048),
        (Unit.POINTS, 1.048, 48.0),
        (Unit.PLATO, 1.048, 11.907),  # NBS Circular C440: 1.04831 is 12 °P less 0.077 °P at 0.248 °P a point
        (Unit.PERCENT, 0.35, 35.0),
        (Unit.SWITCH, 1.0, 1.0),
    ],
)
def test_it_speaks_its_own_unit(unit: Unit, value: float, said: float) -> None:
    assert in_unit(value, unit) == pytest.approx(said, abs=0.02)


def test_temperatures_come_in_sixteenths() -> None:
    said = readings(sensor(noise=0.2, resolution=0.0625), 19.4)
    assert len(set(said)) > 5
    assert all((value / 0.0625).is_integer() for value in said)


def test_noise_has_the_size_asked_for_and_no_bias() -> None:
    said = readings(sensor(noise=0.5), 20.0, count=2000)
    mean = sum(said) / len(said)
    spread = (sum((value - mean) ** 2 for value in said) / len(said)) ** 0.5
    assert mean == pytest.approx(20.0, abs=0.05)
    assert spread == pytest.approx(0.5, rel=0.1)


def test_offset_and_drift_add_up() -> None:
    probe = sensor(offset=1.0, drift_per_day=0.5)
    probe.follow(20.0, 60.0)
    assert probe.read(START + timedelta(days=4)) == pytest.approx(23.0)


def test_a_probe_in_a_well_trails_the_beer_and_gets_there() -> None:
    probe = sensor(lag_s=240.0)
    probe.follow(20.0, 60.0)
    probe.follow(25.0, 60.0)
    assert probe.felt is not None
    assert 20.0 < probe.felt < 22.0
    for _ in range(60):
        probe.follow(25.0, 60.0)
    assert probe.felt == pytest.approx(25.0, abs=0.01)


def test_dropouts_leave_gaps_about_as_often_as_asked() -> None:
    assert 700 < len(readings(sensor(dropout=0.2), 20.0, count=1000)) < 880


def test_foam_lifts_a_float_while_the_ferment_is_lively() -> None:
    probe = sensor(Unit.POINTS, foam=2.0)
    probe.follow(1.040, 60.0)
    quiet, lively = probe.read(START), probe.read(START, liveliness=1.0)
    assert quiet == pytest.approx(40.0)
    assert lively == pytest.approx(42.0)


@pytest.mark.parametrize(
    ("kind", "amount", "said"),
    [(FaultKind.SILENT, 0.0, None), (FaultKind.POWER_ON_CODE, 0.0, 85.0), (FaultKind.OFFSET, 3.0, 23.0)],
)
def test_a_fault_shows_until_it_is_over(kind: FaultKind, amount: float, said: float | None) -> None:
    probe = sensor()
    probe.follow(20.0, 60.0)
    probe.faults.append(Fault(kind, START + timedelta(hours=1), amount))
    assert probe.read(START) == said
    assert probe.read(START + timedelta(hours=1)) == 20.0


def test_a_power_on_code_is_85_celsius_in_whatever_unit() -> None:
    probe = sensor(Unit.FAHRENHEIT)
    probe.follow(20.0, 60.0)
    probe.faults.append(Fault(FaultKind.POWER_ON_CODE, START + timedelta(hours=1)))
    assert probe.read(START) == 185.0


def test_a_stuck_probe_repeats_what_it_last_said() -> None:
    probe = sensor(noise=0.5)
    probe.follow(20.0, 60.0)
    last = probe.read(START)
    probe.faults.append(Fault(FaultKind.STUCK, START + timedelta(hours=1)))
    probe.follow(30.0, 60.0)
    assert {probe.read(START + timedelta(minutes=minute)) for minute in range(10)} == {last}


def test_it_speaks_at_its_own_interval() -> None:
    probe = sensor()
    due = [minute for minute in range(60) if probe.is_due(START + timedelta(minutes=minute), 60.0, at_least_s=900.0)]
    assert due == [0, 15, 30, 45]


def test_every_kind_of_probe_has_usual_flaws() -> None:
    assert {what for what, _ in USUAL_FLAWS} == set(What)
