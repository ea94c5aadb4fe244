import numpy as np
import pytest

from fermwatch.judgement import kalman
from fermwatch.judgement.kalman import DRIFT, GRAVITY, RATE, Estimate
from fermwatch.judgement.preprocess import Bin
from fermwatch.judgement.settings import BIN_DAYS


def a_bin(end_h: float, gravity: float | None, temperature_c: float = 20.0, noise: float = 0.3) -> Bin:
    return Bin(end_h, gravity, 12, noise, temperature_c, True)


def run(gravities: list[float], temperatures: list[float] | None = None) -> list[Estimate]:
    estimate, course = kalman.start(gravities[0], 0.7, 0.25), []
    for index, gravity in enumerate(gravities):
        temperature_c = 20.0 if temperatures is None else temperatures[index]
        estimate = kalman.observe_probe(kalman.predict(estimate), a_bin(3.0 * (index + 1), gravity, temperature_c))
        course.append(kalman.remember_decline(estimate))
    return course


@pytest.mark.parametrize(("temperature_c", "points"), [(4.0, 1.77), (20.0, 0.0)])
def test_the_density_effect_is_that_of_the_handbook(temperature_c: float, points: float) -> None:
    assert kalman.density_effect(temperature_c) == pytest.approx(points, abs=0.01)


def test_a_noiseless_line_gives_its_rate() -> None:
    gravities = [50.0 - 4.0 * BIN_DAYS * (index + 0.5) for index in range(80)]
    last = run(gravities)[-1]
    assert last.rate == pytest.approx(-4.0, abs=0.3)


def test_two_hydrometer_readings_tell_drift_from_a_creep() -> None:
    """A probe that drifts up half a point a day on still beer looks like beer that rises, until it is read by hand."""
    estimate = kalman.start(50.0, 0.7, 0.25)
    for index in range(120):
        estimate = kalman.predict(estimate)
        drifted = 50.0 + 0.5 * BIN_DAYS * (index + 0.5)
        estimate = kalman.observe_probe(estimate, a_bin(3.0 * (index + 1), drifted))
        if index in {60, 119}:
            estimate = kalman.observe_hydrometer(estimate, 50.0, 0.3, 0.0)
    assert estimate.mean[DRIFT] == pytest.approx(0.5, abs=0.15)
    assert estimate.mean[GRAVITY] == pytest.approx(50.0, abs=0.7)
    assert abs(estimate.mean[RATE]) < 0.15


def test_a_cold_crash_does_not_look_like_a_rise() -> None:
    gravities, temperatures = [12.0] * 60, [20.0] * 60
    for index in range(40):
        temperature_c = max(2.0, 20.0 - 1.0 * index)
        temperatures.append(temperature_c)
        gravities.append(12.0 + kalman.density_effect(temperature_c))
    course = run(gravities, temperatures)
    assert max(abs(estimate.gravity - 12.0) for estimate in course[60:]) < 0.8
    assert max(estimate.rate for estimate in course[60:]) < 0.6


def test_one_outlier_is_doubted_and_a_second_one_in_a_row_is_believed() -> None:
    steady = [50.0] * 40
    once = run([*steady, 40.0])[-1]
    twice = run([*steady, 40.0, 40.0])[-1]
    assert once.gravity > 48.0
    assert twice.gravity < once.gravity - 1.5


def test_the_covariance_stays_symmetric_and_positive() -> None:
    for estimate in run([50.0 - 0.1 * index for index in range(200)]):
        assert np.allclose(estimate.covariance, estimate.covariance.T)
        assert np.linalg.eigvalsh(estimate.covariance).min() > -1e-9
