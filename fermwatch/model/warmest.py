"""Where a package is judged: at the warmest of where its beer conditions, where it will stand, and one accident.

Sugar makes its CO2 where the beer conditions, 18 to 24 °C for an ale, and a package is then carried, given away and
forgotten in a car (common practice). A cold store lowers the pressure of what is full of gas already; it makes no more
gas safe, for beer that is put cold at once waits, and carbonates when it is warmed.
"""

from dataclasses import dataclass

from fermwatch.model.batch import PackageChoice
from fermwatch.model.yeast import Yeast

CONDITIONING_C = 20.0

CONDITIONS, STANDS, ACCIDENT = "where it conditions", "where it will stand", "should it once get so warm by accident"
UNDER_PRESSURE = "where it stands under its pressure"


@dataclass(frozen=True, slots=True)
class Warmest:
    """The temperature that a package is judged at, and why it is that one, in words."""

    temperature_c: float
    why: str


def conditioning_c(choice: PackageChoice, yeast: Yeast | None = None) -> float:
    """Where its CO2 is made: as said; else 20 °C, or what of the yeast's range is nearest to it. A forced keg takes
    its CO2 up where it stands."""
    if choice.forced:
        return choice.storage_c
    if choice.conditioning_c is not None:
        return choice.conditioning_c
    if yeast is None:
        return CONDITIONING_C
    return min(max(CONDITIONING_C, yeast.temperature_low_c), yeast.temperature_high_c)


def warmest_of(choice: PackageChoice, yeast: Yeast | None = None) -> Warmest:
    """What its pressure is judged at. A forced keg makes no gas of its own, and its valve stands for the accident."""
    if choice.forced:
        return Warmest(choice.storage_c, UNDER_PRESSURE)
    conditions = Warmest(conditioning_c(choice, yeast), CONDITIONS)
    stands, accident = Warmest(choice.storage_c, STANDS), Warmest(choice.accident_c, ACCIDENT)
    return max(conditions, stands, accident, key=lambda one: one.temperature_c)
