"""A bottling day in numbers: what the beer holds, what may still ferment, the dose, and the pressure to come.

Pure: values in, values out.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from fermwatch.judgement import packaging
from fermwatch.judgement.facts import ForcedFerment, Happening, facts_of
from fermwatch.judgement.stillness import Decline
from fermwatch.model.batch import Batch, Event, PackageChoice
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

WARM_C = 20.0
FASTEST, MOST_UNSURE = 15.0, 5.0  # points/day: beyond, a bottle is out of the question anyway
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


def still_fermentable(
    trend: Trend | None, temperature_c: float | None, forced: ForcedFerment | None = None
) -> FermentableLeft:
    """What may still ferment, as the verdict reckons it; without a trend, a hydrometer's own doubt."""
    if trend is None:
        return UNKNOWN_LEFT
    decline = Decline(min(-trend.rate_points_per_day, FASTEST), min(trend.rate_sd_points_per_day, MOST_UNSURE))
    points = 1000.0 * (trend.gravity_sg - 1.0)
    return packaging.left(
        decline, WARM_C if temperature_c is None else temperature_c, points, trend.gravity_sd_points, forced
    )


def forced_ferment(batch: Batch, events: Iterable[Event]) -> ForcedFerment | None:
    """The forced ferment that still holds, if there is one."""
    done = [Happening(one.id, 0.0, one.kind, one.data) for one in events if not one.voided]
    return facts_of(batch, done).forced


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
