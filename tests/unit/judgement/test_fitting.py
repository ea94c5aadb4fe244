"""NIST Statistical Reference Datasets, nonlinear regression (public domain): certified parameters."""

import numpy as np
import pytest
from numpy.typing import NDArray

from fermwatch.judgement.curves import Richards
from fermwatch.judgement.fitting import fit

Array = NDArray[np.float64]

RAT43_X = np.arange(1.0, 16.0)
RAT43_Y = np.array(
    [16.08, 33.83, 65.80, 97.20, 191.55, 326.20, 386.87, 520.53, 590.03, 651.92, 724.93, 699.56, 689.96, 637.56, 717.41]
)
RAT42_X = np.array([9.0, 14, 21, 28, 42, 57, 63, 70, 79])
RAT42_Y = np.array([8.93, 10.8, 18.59, 22.33, 39.35, 56.11, 61.73, 64.62, 67.08])
BOXBOD_X = np.array([1.0, 2, 3, 5, 7, 10])
BOXBOD_Y = np.array([109.0, 149, 149, 191, 213, 224])


def rat43(b: Array) -> Array:
    return np.asarray(b[:, 0:1] / (1.0 + np.exp(b[:, 1:2] - b[:, 2:3] * RAT43_X)) ** (1.0 / b[:, 3:4]) - RAT43_Y)


def rat42(b: Array) -> Array:
    return np.asarray(b[:, 0:1] / (1.0 + np.exp(b[:, 1:2] - b[:, 2:3] * RAT42_X)) - RAT42_Y)


def boxbod(b: Array) -> Array:
    return np.asarray(b[:, 0:1] * (1.0 - np.exp(-b[:, 1:2] * BOXBOD_X)) - BOXBOD_Y)


@pytest.mark.parametrize(
    ("residuals", "start", "certified"),
    [
        (rat43, (700.0, 5.0, 0.75, 1.3), (699.64151270, 5.2771253025, 0.75962938329, 1.2792483859)),
        (rat42, (100.0, 1.0, 0.1), (72.462237576, 2.6180768402, 0.067359200066)),
        (rat42, (75.0, 2.5, 0.07), (72.462237576, 2.6180768402, 0.067359200066)),
        (boxbod, (100.0, 0.75), (213.80940889, 0.54723748542)),
    ],
)
def test_a_fit_reproduces_the_certified_parameters(
    residuals: object, start: tuple[float, ...], certified: tuple[float, ...]
) -> None:
    found = fit(residuals, np.array(start), steps=500, tolerance=1e-15)  # type: ignore[arg-type]
    assert found.parameters == pytest.approx(certified, rel=1e-6)


def test_student_residuals_are_not_moved_by_an_outlier() -> None:
    x = np.arange(20.0)
    y = 3.0 + 2.0 * x
    y[7] += 500.0

    def residuals(b: Array) -> Array:
        return np.asarray(b[:, 0:1] + b[:, 1:2] * x - y)

    robust = fit(residuals, np.array([0.0, 1.0]), student=(20, 4.0), steps=200)
    plain = fit(residuals, np.array([0.0, 1.0]))
    assert robust.parameters == pytest.approx([3.0, 2.0], abs=0.1)
    assert abs(plain.parameters[0] - 3.0) > 5.0


def test_the_richards_curve_of_growth_is_the_one_that_is_fitted_to_beer() -> None:
    """Rat43's certified curve, written with a steepest rate and a lag, is the same sigmoid up to its start."""
    b1, b2, b3, b4 = 699.64151270, 5.2771253025, 0.75962938329, 1.2792483859
    steepest = b1 * b3 / b4 * (1.0 + b4) ** (-1.0 - 1.0 / b4) * b4
    lag = (b2 - np.log(b4) - 1.0 - b4) / b3
    curve = Richards(*(np.array([[value]]) for value in (b1, steepest, lag, b4)))
    plain = b1 / (1.0 + np.exp(b2 - b3 * RAT43_X)) ** (1.0 / b4)
    at_start = b1 / (1.0 + np.exp(b2)) ** (1.0 / b4)
    expected = (plain - at_start) / (1.0 - at_start / b1)
    assert curve.fallen(RAT43_X)[0] == pytest.approx(expected, rel=1e-9)
