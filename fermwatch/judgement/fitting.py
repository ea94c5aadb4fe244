"""Nonlinear least squares by Levenberg and Marquardt, with Student-t residuals where outliers are to be expected.

Levenberg 1944; Marquardt 1963 (doi:10.1137/0111030). Checked against NIST's certified nonlinear regressions.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Residuals = Callable[[Array], Array]

FIRST_DAMPING, LEAST_DAMPING, MOST_DAMPING = 1e-2, 1e-12, 1e10


@dataclass(frozen=True, slots=True)
class Fit:
    """parameters: (n,); covariance: (n, n), for residuals of unit variance; cost: half the sum of squares or so."""

    parameters: Array
    covariance: Array
    cost: float
    steps: int


def fit(
    residuals: Residuals,
    start: Array,
    *,
    steps: int = 40,
    tolerance: float = 1e-10,
    student: tuple[int, float] | None = None,
) -> Fit:
    """Minimise the squares of `residuals`, which maps parameters (k, n) to residuals (k, m).

    student: (count, degrees of freedom): the first `count` residuals are Student-t distributed, the rest normal.
    """
    parameters = np.array(start, dtype=np.float64)
    value = residuals(parameters[None, :])[0]
    cost = _cost(value, student)
    damping, done = FIRST_DAMPING, 0
    curvature = np.eye(len(parameters))
    for done in range(1, steps + 1):  # noqa: B007 (told in the result)
        jacobian = _jacobian(residuals, parameters)
        weights = _weights(value, student)
        gradient = jacobian.T @ (weights * value)
        curvature = jacobian.T @ (jacobian * weights[:, None])
        improved = False
        while damping < MOST_DAMPING and not improved:
            step = np.linalg.solve(curvature + damping * np.diag(np.diag(curvature) + 1e-12), -gradient)
            candidate = residuals((parameters + step)[None, :])[0]
            candidate_cost = _cost(candidate, student)
            improved = bool(candidate_cost < cost)
            damping = max(damping / 5.0, LEAST_DAMPING) if improved else damping * 4.0
        if not improved:
            break
        gain = cost - candidate_cost
        parameters, value, cost = parameters + step, candidate, candidate_cost
        if gain <= tolerance * (cost + tolerance):
            break
    return Fit(parameters, np.asarray(np.linalg.pinv(curvature), dtype=np.float64), cost, done)


def _jacobian(residuals: Residuals, parameters: Array) -> Array:
    """Central differences, all in one call; (m, n)."""
    widths = 6e-6 * np.maximum(np.abs(parameters), 1e-2)
    shifts = np.diag(widths)
    both = residuals(np.concatenate([parameters + shifts, parameters - shifts]))
    ahead, behind = np.split(both, 2)
    return np.asarray(((ahead - behind) / (2.0 * widths[:, None])).T)


def _cost(value: Array, student: tuple[int, float] | None) -> float:
    if not np.isfinite(value).all():
        return float("inf")
    if student is None:
        return 0.5 * float(value @ value)
    count, freedom = student
    tails = 0.5 * (freedom + 1.0) * float(np.log1p(value[:count] ** 2 / freedom).sum())
    return tails + 0.5 * float(value[count:] @ value[count:])


def _weights(value: Array, student: tuple[int, float] | None) -> Array:
    weights = np.ones_like(value)
    if student is not None:
        count, freedom = student
        weights[:count] = (freedom + 1.0) / (freedom + value[:count] ** 2)
    return weights
