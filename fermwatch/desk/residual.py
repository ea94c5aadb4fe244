"""The CO2 that beer holds before any sugar, by what somebody knows of its days."""

from dataclasses import dataclass, replace

from fermwatch.errors import InputError
from fermwatch.model.amounts import typed_temperature
from fermwatch.science.carbonation import ResidualCo2, residual_interval, residual_interval_fed
from fermwatch.science.solubility import ATMOSPHERE_BAR


@dataclass(frozen=True, slots=True)
class Held:
    """What decides how much CO2 beer holds before the sugar.

    warmest_c: the warmest since fermentation was active; None where nobody says it. ended_c: when activity ended;
    None: as warm. head_bar: over the beer then, gauge. fed: CO2 was fed, and both are those of now.
    atmosphere_bar: of the air where it ferments; None: of the place, or of the sea where no place is known.
    """

    warmest_c: float | None = None
    ended_c: float | None = None
    head_bar: float = 0.0
    fed: bool = False
    atmosphere_bar: float | None = None

    @property
    def air_bar(self) -> float:
        return ATMOSPHERE_BAR if self.atmosphere_bar is None else self.atmosphere_bar

    def in_air(self, air_bar: float) -> "Held":
        """The same, in the place's own air unless another was said."""
        return self if self.atmosphere_bar is not None else replace(self, atmosphere_bar=air_bar)

    def residual(self) -> ResidualCo2:
        """InputError where the temperature is not known: it decides, and nothing stands for it."""
        if self.warmest_c is None:
            raise InputError(
                "How warm was the beer at its warmest since fermentation was active?",
                hint=f"Add --warmest {typed_temperature(21)}: not today's temperature, for a warm rest drives CO2 out "
                "for good.",
            )
        ended_c = self.warmest_c if self.ended_c is None else self.ended_c
        if self.fed:
            return residual_interval_fed(self.warmest_c, ended_c, self.head_bar, atmosphere_bar=self.air_bar)
        return residual_interval(
            self.warmest_c, ended_c, head_pressure_bar_gauge=self.head_bar, atmosphere_bar=self.air_bar
        )
