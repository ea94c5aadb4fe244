"""A packaging day in numbers: what the beer holds, what may still ferment, the dose, and the pressure to come.

Pure: values in, values out.
"""

from dataclasses import dataclass, replace

from fermwatch.errors import InputError
from fermwatch.judgement.filling import (
    asleep,
    awake,
    most_volumes,
    packed,
    pressure_to_set,
    reckon,
    reckoned_dose,
    volumes_by_dose,
    waiting_helps,
)
from fermwatch.model.batch import Batch, PackageChoice
from fermwatch.model.warmest import Warmest, conditioning_c, warmest_of
from fermwatch.science.carbonation import ResidualCo2, volumes_per_point
from fermwatch.science.pressure_risk import FermentableLeft, PressureRisk, SugarDose
from fermwatch.science.solubility import ATMOSPHERE_BAR, VOLUMES_PER_POINT


@dataclass(frozen=True, slots=True)
class Filling:
    """The dose, and what may become of the package.

    left: what may still ferment in it, of the beer itself.
    set_bar: gauge, of a forced keg; None for what is primed.
    most: the volumes that the package may have; None where none fit. waits: whether some would once it has finished.
    air_bar: how hard the air presses where it is filled.
    """

    choice: PackageChoice
    conditioning_c: float
    warmest: Warmest
    residual: ResidualCo2
    dose: SugarDose
    risk: PressureRisk
    left: FermentableLeft
    set_bar: float | None = None
    most: float | None = None
    waits: bool = False
    air_bar: float = ATMOSPHERE_BAR

    @property
    def flat(self) -> bool:
        """Whether nothing will carbonate it: no cylinder, no sugar."""
        return self.set_bar is None and self.dose.g_per_l == 0.0

    def sugar_g(self, volume_l: float) -> float:
        return self.dose.g_per_l * volume_l


def by_dose(
    batch: Batch,
    choice: PackageChoice,
    residual: ResidualCo2,
    dose: SugarDose,
    headspace_share: float | None = None,
    air_bar: float = ATMOSPHERE_BAR,
) -> PackageChoice:
    """The package with the carbonation that this dose of sugar gives, which is then what it is judged for.

    Raises InputError for a keg that takes its CO2 from a cylinder.
    """
    if choice.forced and dose.g_per_l > 0.0:
        raise InputError(
            "A forced keg takes its CO2 from the cylinder, and no sugar.",
            hint="Leave --dose out, or say --way primed.",
        )
    if choice.forced:
        return choice
    bottle = packed(choice, warmest_of(choice, batch.yeast), headspace_share=headspace_share, atmosphere_bar=air_bar)
    conditions_c = conditioning_c(choice, batch.yeast)
    return replace(choice, volumes=round(volumes_by_dose(bottle, conditions_c, residual, dose), 2))


def filling(
    batch: Batch,
    choice: PackageChoice,
    residual: ResidualCo2,
    left: FermentableLeft,
    *,
    sugar: str = "sucrose",
    dose: SugarDose | None = None,
    now_sg: float | None = None,
    headspace_share: float | None = None,
    air_bar: float = ATMOSPHERE_BAR,
) -> Filling:
    """The filling of a package, with the dose said or the one that the carbonation wanted needs.

    Raises InputError for a package that no beer goes into and for sugar that would do nothing there, OutOfDomain
    outside what the formulas are good for.
    """
    warmest, conditions_c = warmest_of(choice, batch.yeast), conditioning_c(choice, batch.yeast)
    bottle = packed(choice, warmest, headspace_share=headspace_share, atmosphere_bar=air_bar)
    if dose is None:
        dose = reckoned_dose(choice, residual, bottle, conditions_c, sugar)
    why = asleep(choice, conditions_c, batch.yeast.temperature_low_c)
    if why and dose.g_per_l > 0.0:
        raise InputError(f"{batch.name} is not primed: {why}.", hint=awake(choice))
    per_point = VOLUMES_PER_POINT if now_sg is None else volumes_per_point(batch.original_sg, now_sg)
    risk = reckon(choice, bottle, left, residual, dose, per_point)
    set_bar = pressure_to_set(choice, air_bar) if choice.forced else None
    most = most_volumes(choice, bottle, left, residual, conditions_c, per_point)
    waits = most is None and waiting_helps(choice, bottle, left, residual, conditions_c)
    return Filling(choice, conditions_c, warmest, residual, dose, risk, left, set_bar, most, waits, air_bar)
