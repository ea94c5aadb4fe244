"""What lets one formula serve a float and a numpy array alike: domain checks, elementary functions, Newton's method.

numpy is imported only once an array arrives, so that a command line that converts one number starts quickly.
"""

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar, cast

from fermwatch.errors import OutOfDomain

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Number = TypeVar("Number", float, "NDArray[np.float64]")


def within(value: Number, low: float, high: float, *, quantity: str, unit: str, hint: str = "") -> Number:
    """Return `value` if all of it lies in `low`..`high`; NaN never does.

    Raises:
        OutOfDomain: naming the quantity, the worst element and the range.
    """
    worst = _farthest_outside(value, low, high)
    if worst is not None:
        raise OutOfDomain(quantity=quantity, value=f"{round(worst, 4):g}", low=low, high=high, unit=unit, hint=hint)
    return value


def _farthest_outside(value: "float | NDArray[np.float64]", low: float, high: float) -> float | None:
    if isinstance(value, (int, float)):
        return None if low <= value <= high else float(value)
    if value.size == 0:
        return None
    smallest, largest = float(value.min()), float(value.max())
    if not smallest >= low:
        return smallest
    return None if largest <= high else largest


def beside(value: float, _pattern: Number) -> Number:
    """Return `value` itself, for the type checker of the kind of the pattern: a float broadcasts beside an array."""
    same: Any = value
    return cast("Number", same)


def polynomial(coefficients: "Sequence[float | Number]", x: Number) -> Number:
    """Evaluate `c[0] + c[1] x + c[2] x^2 + ...` by Horner's rule (two coefficients at least)."""
    result = coefficients[-1] * x + coefficients[-2]
    for coefficient in reversed(coefficients[:-2]):
        result = result * x + coefficient
    return result


def derivative(coefficients: Sequence[float]) -> tuple[float, ...]:
    """Return the coefficients of the polynomial's derivative."""
    return tuple(order * coefficient for order, coefficient in enumerate(coefficients))[1:]


def newton(start: Number, residual_and_slope: Callable[[Number], tuple[Number, Number]], steps: int) -> Number:
    """Take a fixed number of Newton steps, for a smooth monotonic function and a start that is already close.

    Each step squares the relative error, so a start good to 1e-3 needs three steps for double precision; the
    fixed count is what lets arrays go the same way as floats.
    """
    x = start
    for _ in range(steps):
        residual, slope = residual_and_slope(x)
        x = x - residual / slope
    return x


def exp(x: Number) -> Number:
    """Return e to the power x."""
    return _elementary("exp", x)


def log(x: Number) -> Number:
    """Return the natural logarithm."""
    return _elementary("log", x)


def sqrt(x: Number) -> Number:
    """Return the square root."""
    return _elementary("sqrt", x)


def _elementary(name: str, x: Number) -> Number:
    if isinstance(x, (int, float)):
        return cast("Number", getattr(math, name)(x))
    import numpy as np

    return cast("Number", getattr(np, name)(x))
