"""The pressure risk of one batch in closed form beside 100,000 plain Monte Carlo draws in numpy, in the same run."""

import statistics
import sys
import time

import numpy as np

from fermwatch.science.carbonation import ResidualCo2
from fermwatch.science.pressure_risk import Bottle, FermentableLeft, SugarDose, pressure_risk
from fermwatch.science.solubility import VOLUMES_PER_POINT

DRAWS = 100_000
ROUNDS = 25

LEFT = FermentableLeft(1.0, 0.8)
RESIDUAL = ResidualCo2(0.78, 0.92)
DOSE = SugarDose(5.0)
BOTTLE = Bottle(4.8)


def monte_carlo(rng: np.random.Generator) -> tuple[float, float]:
    """Return the chance over the limit and the volumes that 95 % stay below, by plain draws."""
    points = rng.normal(LEFT.mean_points, LEFT.sd_points, 2 * DRAWS)
    points = points[points >= 0.0][:DRAWS]
    doses = DOSE.volumes * (1.0 + DOSE.relative_sd * rng.normal(size=len(points)))
    volumes = RESIDUAL.high + VOLUMES_PER_POINT * points + doses
    return float((volumes > BOTTLE.volumes_at_limit()).mean()), float(np.quantile(volumes, 0.95))


def report() -> str:
    """Return times of both, and how far the draws are off the closed form."""
    rng = np.random.default_rng(3)
    closed_ms, drawn_ms, chances = [], [], []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        found = pressure_risk(LEFT, RESIDUAL, DOSE, BOTTLE)
        middle = time.perf_counter()
        chance, _ = monte_carlo(rng)
        closed_ms.append(1000.0 * (middle - start))
        drawn_ms.append(1000.0 * (time.perf_counter() - middle))
        chances.append(chance)
    ratio = statistics.median(drawn / closed for drawn, closed in zip(drawn_ms, closed_ms, strict=True))
    spread = f"{statistics.mean(chances):.5f} ± {statistics.stdev(chances):.5f} a round"
    return "\n".join(
        (
            f"one batch, median of {ROUNDS} interleaved rounds",
            f"closed form            {statistics.median(closed_ms):8.2f} ms   chance {found.chance_over_limit:.5f}",
            f"{DRAWS:,} plain draws    {statistics.median(drawn_ms):8.2f} ms   chance {spread}",
            f"draws / closed form    {ratio:8.1f} times",
        )
    )


if __name__ == "__main__":
    sys.stdout.write(report() + "\n")
