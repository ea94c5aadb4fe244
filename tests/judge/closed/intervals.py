"""How sure a counted share or a median is."""

from collections.abc import Callable, Sequence
from math import sqrt

import numpy as np

from tests.judge.brew import Array

Z_95 = 1.959964
RESAMPLED = 400


def wilson(hits: int, of: int, z: float = Z_95) -> tuple[float, float]:
    """Bounds of a share (Wilson 1927, J. Am. Stat. Assoc. 22:209); 0..1 where nothing was counted."""
    if of == 0:
        return 0.0, 1.0
    share, spread = hits / of, z * z / of
    middle = (share + spread / 2.0) / (1.0 + spread)
    half = z / (1.0 + spread) * sqrt(share * (1.0 - share) / of + spread / (4.0 * of))
    return max(middle - half, 0.0), min(middle + half, 1.0)


def bootstrap(values: Sequence[float], figure: Callable[[Array], float]) -> tuple[float, float]:
    """95 % interval of a figure by drawing the values again, always with the same seed."""
    random = np.random.default_rng(1)
    drawn = np.array(values)[random.integers(0, len(values), (RESAMPLED, len(values)))]
    low, high = np.quantile([figure(row) for row in drawn], [0.025, 0.975])
    return float(low), float(high)
