"""Thermal time: hours as yeast counts them, twice as fast for every 10 °C more, hardly at all when it is cold."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

COLD_BELOW_RANGE_C = 7.0
COLD_RAMP_C = 4.0
SLEEPING_SPEED = 0.03


def speed(temperature_c: Array, range_low_c: float, range_high_c: float) -> Array:
    """Thermal hours per hour; 1 in the middle of the yeast's range. Any shape. Q10 = 2 (common practice)."""
    middle = (range_low_c + range_high_c) / 2.0
    awake = np.clip((temperature_c - (range_low_c - COLD_BELOW_RANGE_C)) / COLD_RAMP_C, SLEEPING_SPEED, 1.0)
    return np.asarray(np.exp2((temperature_c - middle) / 10.0) * awake)
