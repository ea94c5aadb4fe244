"""Where a beer is expected to end before its own gravity tells: by its yeast, and by the brewer's own earlier batches.

Two levels (Gelman et al. 2013, Bayesian Data Analysis, chapter 5): a brewer's worts with one yeast end about a mean of
their own, which lies where the yeast's range lets expect, and each batch lies about that mean. So one batch already
tells something, and many tell no more than the spread between batches allows.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Of the range's half width: the spread of ends about its middle, and the share of batches; most worts end well inside
# it, a few outside (measured on simulated batches).
ORDINARY, ODD = (0.6, 0.85), (1.6, 0.15)
# Apparent attenuation, from batch to batch of one brewer with one yeast, and how likely each is (common practice).
BETWEEN = ((0.006, 0.25), (0.012, 0.5), (0.024, 0.25))
LEAST_HALF = 0.01


@dataclass(frozen=True, slots=True)
class OwnEnd:
    """Where an earlier batch of the brewer's own ended, by hand.

    attenuation: apparent, 0..1, with its standard deviation as measured. away: from the middle of what this yeast is
    expected to reach in that wort. hopped: after dry hops, whose enzymes bring a beer further down.
    """

    attenuation: float
    sd: float
    away: float
    hopped: bool = False


@dataclass(frozen=True, slots=True)
class End:
    """A normal distribution of apparent attenuation, and its share in a mixture of them."""

    attenuation: float
    sd: float
    share: float


def expected_ends(low: float, high: float, own: Sequence[OwnEnd] = ()) -> tuple[End, ...]:
    """The mixture to expect of a yeast whose apparent attenuation is `low` to `high`, 0..1, after these own batches."""
    middle, half = (low + high) / 2.0, max((high - low) / 2.0, LEAST_HALF)
    if not own:
        return tuple(End(middle, halves * half, share) for halves, share in (ORDINARY, ODD))
    found, logs = [], []
    for halves, share in (ORDINARY, ODD):
        for between, likely in BETWEEN:
            end, told = _learnt(halves * half, between, own)
            found.append((middle + end[0], end[1]))
            logs.append(np.log(share * likely) + told)
    shares = np.exp(np.array(logs) - max(logs))
    shares /= shares.sum()
    return tuple(End(mean, sd, float(share)) for (mean, sd), share in zip(found, shares, strict=True))


def _learnt(spread: float, between: float, own: Sequence[OwnEnd]) -> tuple[tuple[float, float], float]:
    """The next batch's mean and sd about the middle, and the logarithm of how likely the earlier ones were."""
    shared = max(spread**2 - between**2, (0.25 * spread) ** 2)
    away = np.array([one.away for one in own])
    covariance = np.full((len(own), len(own)), shared)
    covariance += np.diag([between**2 + one.sd**2 for one in own])
    gain = np.linalg.solve(covariance, np.full(len(own), shared))
    _, size = np.linalg.slogdet(covariance)
    told = -0.5 * float(away @ np.linalg.solve(covariance, away) + size)
    left = shared - shared * float(gain.sum())
    return (float(gain @ away), float(np.sqrt(left + between**2))), told


def mean_of(ends: Sequence[End]) -> float:
    """Apparent attenuation."""
    return sum(end.share * end.attenuation for end in ends)


def density_of(ends: Sequence[End], attenuation: Array) -> Array:
    """How likely each is, per unit of apparent attenuation."""
    odds = np.zeros(len(attenuation))
    for end in ends:
        away = (attenuation - end.attenuation) / end.sd
        odds += end.share / (end.sd * np.sqrt(2.0 * np.pi)) * np.exp(-0.5 * away**2)
    return odds


def own_words(own: Sequence[OwnEnd]) -> str:
    """Your last three with this yeast ended at 76 to 79 %. Empty without any."""
    if not own:
        return ""
    least, most = (round(100.0 * pick(one.attenuation for one in own)) for pick in (min, max))
    at = f"{least} to {most} %" if least < most else f"{least} %"
    if len(own) == 1:
        return f"your last batch with this yeast ended at {at}"
    return f"your last {_COUNTS.get(len(own), str(len(own)))} with this yeast ended at {at}"


_COUNTS = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}
