"""A bottling day in numbers: what the beer holds, what may still ferment, the dose, and the pressure to come.

Pure: values in, values out.
"""

from dataclasses import dataclass

from fermwatch.model.batch import Batch, PackageChoice
from fermwatch.model.judgement import Trend
from fermwatch.science.carbonation import ResidualCo2, sugar_for_rise_g_per_l, volumes_per_point
from fermwatch.science.packages import package_named, pressure_limit_bar_gauge
from fermwatch.science.pressure_risk import (
    VOLUMES_PER_POINT,
    Bottle,
    FermentableLeft,
    PressureRisk,
    SugarDose,
    pressure_risk,
)
from fermwatch.science.solubility import ATMOSPHERE_BAR

# What falls d points a day has about 5 d points left at 20 °C, more where it is colder (common practice).
TAIL_DAYS = 5.0
TAIL_LONGEST_DAYS = 10.0
WARM_C = 20.0
UNKNOWN_LEFT = FermentableLeft(0.0, 0.7)  # two hydrometer readings alike, and nothing else known


@dataclass(frozen=True, slots=True)
class Filling:
    """The dose, and what may become of a bottle."""

    choice: PackageChoice
    residual: ResidualCo2
    left: FermentableLeft
    dose: SugarDose
    risk: PressureRisk

    def sugar_g(self, volume_l: float) -> float:
        return self.dose.g_per_l * volume_l


def still_fermentable(trend: Trend | None, temperature_c: float | None) -> FermentableLeft:
    """What may still ferment, by the fall that the trend does not rule out; without one, a hydrometer's own doubt."""
    if trend is None:
        return UNKNOWN_LEFT
    colder = WARM_C - (WARM_C if temperature_c is None else temperature_c)
    days = min(TAIL_DAYS * 2.0 ** (colder / 10.0), TAIL_LONGEST_DAYS)
    sd = max(trend.rate_sd_points_per_day * days, 0.05)
    return FermentableLeft(max(-trend.rate_points_per_day * days, -4.0 * sd), min(sd, 50.0))


def filling(
    batch: Batch,
    choice: PackageChoice,
    residual: ResidualCo2,
    left: FermentableLeft,
    *,
    sugar: str = "sucrose",
    dose_g_per_l: float | None = None,
    now_sg: float | None = None,
    atmosphere_bar: float = ATMOSPHERE_BAR,
) -> Filling:
    """The filling of a package, with the dose said or the one that the carbonation wanted needs.

    Raises InputError for a package that no beer goes into, OutOfDomain outside what the formulas are good for.
    """
    limit_bar = pressure_limit_bar_gauge(package_named(choice.kind), choice.limit_bar)
    if dose_g_per_l is None:
        dose_g_per_l = sugar_for_rise_g_per_l(choice.volumes, residual.middle, sugar)
    dose = SugarDose(dose_g_per_l, sugar)
    per_point = VOLUMES_PER_POINT if now_sg is None else volumes_per_point(batch.original_sg, now_sg)
    bottle = Bottle(limit_bar, choice.storage_c, atmosphere_bar=atmosphere_bar)
    return Filling(choice, residual, left, dose, pressure_risk(left, residual, dose, bottle, per_point))
