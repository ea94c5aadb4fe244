"""One fermentation: sugars, yeast and temperature in; gravity, alcohol, carbon dioxide and heat out.

The mass balance is Balling's (Gärungschemie, 1865): 2.0665 g of extract give 1 g of ethanol, 0.9565 g of carbon dioxide
and 0.11 g of yeast. Lag after Baranyi and Roberts (Int. J. Food Microbiol. 23:277, 1994), temperature by the cardinal
model with inflection (Rosso, Lobry and Flandrois, J. Theor. Biol. 162:447, 1993), sugars taken up one after the other
with the kinetics of Michaelis and Menten. Rate constants and cardinal temperatures are from memory, of the usual size;
they make a plausible beer, not a prediction.
"""

import math
from dataclasses import dataclass, replace

from fermwatch.model.yeast import Yeast
from fermwatch.science.alcohol import (
    CO2_PER_ETHANOL,
    ETHANOL_SG_20,
    EXTRACT_PER_ETHANOL,
    fermented_extract_pct,
)
from fermwatch.science.extract import plato_to_sg, sg_to_plato
from fermwatch.science.heat import HEAT_OF_FERMENTATION_KJ_PER_KG, wort_kg

CO2_PER_EXTRACT = CO2_PER_ETHANOL / EXTRACT_PER_ETHANOL
YEAST_PER_EXTRACT = (EXTRACT_PER_ETHANOL - 1.0 - CO2_PER_ETHANOL) / EXTRACT_PER_ETHANOL
RATE_REFERENCE_C = 20.0

# Apparent from real extract: RE = 0.1808 OE + 0.8192 AE (Balling).
_SHARE_ORIGINAL, _SHARE_APPARENT = 0.1808, 0.8192

_SECONDS_PER_HOUR = 3600.0
_PITCHED_SHARE = 0.1  # of the yeast that will be there once grown
_GROWTH_PER_H = 0.18
_SETTLING_H, _RESUSPENSION_H = 5.0, 18.0
_DORMANT_ACTIVITY = 0.004  # what yeast on the bottom still does


@dataclass(frozen=True, slots=True)
class SugarPool:
    """A pool: its share of what can ferment, its uptake against the strain's vigour, and two half-saturations, kg/kg.

    represses: how much of it halves the uptake of the next pool.
    """

    share: float
    uptake: float
    half_saturation: float
    represses: float


# Glucose with fructose and sucrose; maltose; maltotriose: in the order in which yeast takes them up.
SUGARS = (
    SugarPool(share=0.20, uptake=1.0, half_saturation=0.002, represses=0.004),
    SugarPool(share=0.62, uptake=1.0, half_saturation=0.008, represses=0.020),
    SugarPool(share=0.18, uptake=0.6, half_saturation=0.008, represses=1.0),
)


@dataclass(frozen=True, slots=True)
class Strain:
    """How this yeast really behaves in this wort: what the simulator knows and a brewer has to find out.

    attenuation: apparent, 0..1, where it ends. vigour: kg of extract per kg of wort and hour at 20 °C, all grown.
    lag_h: at 20 °C. minimum_c, optimum_c, maximum_c: cardinal temperatures.
    settles_below_c: colder than this it drops out. wakes_above_c: warmer than this it comes up again by itself.
    tolerance_abw: % of alcohol by mass at which it gives up.
    """

    attenuation: float
    vigour: float
    lag_h: float
    minimum_c: float
    optimum_c: float
    maximum_c: float
    settles_below_c: float
    wakes_above_c: float
    tolerance_abw: float

    @classmethod
    def of(cls, yeast: Yeast, *, attenuation: float | None, vigour: float, lag_h: float) -> "Strain":
        """A strain of the kind that a yeast's ranges describe; without `attenuation`, in the middle of its range."""
        cardinal = (0.0, 27.0, 34.0) if yeast.bottom_fermenting else (4.0, 30.0, 38.0)
        if yeast.temperature_high_c > cardinal[1]:
            cardinal = (8.0, 37.0, 44.0)
        middle_c = (yeast.temperature_low_c + yeast.temperature_high_c) / 2.0
        return cls(
            attenuation=attenuation or (yeast.attenuation_low + yeast.attenuation_high) / 2.0,
            vigour=vigour,
            lag_h=lag_h,
            minimum_c=cardinal[0],
            optimum_c=cardinal[1],
            maximum_c=cardinal[2],
            settles_below_c=yeast.temperature_low_c,
            wakes_above_c=middle_c,
            tolerance_abw=yeast.alcohol_tolerance_abv * 0.8,
        )

    def pace(self, temperature_c: float) -> float:
        """Rate against that at 20 °C; 0 outside the cardinal temperatures."""
        return self._cardinal(temperature_c) / self._cardinal(RATE_REFERENCE_C)

    def _cardinal(self, temperature_c: float) -> float:
        low, best, high = self.minimum_c, self.optimum_c, self.maximum_c
        if not low < temperature_c < high:
            return 0.0
        numerator = (temperature_c - high) * (temperature_c - low) ** 2
        bend = (best - low) * (temperature_c - best) - (best - high) * (best + low - 2.0 * temperature_c)
        return numerator / ((best - low) * bend)


@dataclass(frozen=True, slots=True)
class Brew:
    """Beer at one instant. Sugars in kg per kg of the wort pitched.

    sugars: still to ferment, pool by pool. readiness: of Baranyi's lag. yeast: grown so far, 0..1.
    suspended: share of it not on the bottom. fermenting: kg/kg/s, over the last step.
    """

    sugars: tuple[float, ...]
    readiness: float
    yeast: float = _PITCHED_SHARE
    suspended: float = 1.0
    fermenting: float = 0.0


@dataclass(frozen=True, slots=True)
class Fermentation:
    """A wort and the strain pitched into it; `begin` and `step` make its brews, the rest reads them."""

    original_sg: float
    mass_kg: float
    strain: Strain
    original_plato: float
    fermentable: float  # what the strain can ferment at all, kg per kg of wort

    @classmethod
    def of(cls, original_sg: float, volume_l: float, strain: Strain) -> "Fermentation":
        original = sg_to_plato(original_sg)
        terminal_sg = 1.0 + (original_sg - 1.0) * (1.0 - strain.attenuation)
        return cls(
            original_sg=original_sg,
            mass_kg=wort_kg(volume_l, original),
            strain=strain,
            original_plato=original,
            fermentable=fermented_extract_pct(original, sg_to_plato(terminal_sg)) / 100.0,
        )

    def begin(self) -> Brew:
        growth_in_lag = math.exp(_GROWTH_PER_H * self.strain.lag_h)
        return Brew(
            sugars=tuple(sugar.share * self.fermentable for sugar in SUGARS),
            readiness=1.0 / max(growth_in_lag - 1.0, 1e-6),
        )

    def step(self, brew: Brew, temperature_c: float, dt_s: float) -> Brew:
        """The brew `dt_s` seconds later (at most some minutes at a time). Gravity never rises."""
        dt_h = dt_s / _SECONDS_PER_HOUR
        pace = self.strain.pace(temperature_c)
        awake = brew.readiness / (1.0 + brew.readiness)
        activity = awake * brew.yeast * (brew.suspended + _DORMANT_ACTIVITY) * self._sobriety(brew)
        sugars = _taken_up(brew.sugars, self.strain.vigour * pace * activity * dt_h)
        growth = _GROWTH_PER_H * pace * dt_h
        return Brew(
            sugars=sugars,
            readiness=min(brew.readiness * (1.0 + growth), 1e6),
            yeast=min(brew.yeast * (1.0 + growth * awake * (1.0 - brew.yeast)), 1.0),
            suspended=self._suspended(brew.suspended, temperature_c, dt_h),
            fermenting=(sum(brew.sugars) - sum(sugars)) / dt_s,
        )

    def _suspended(self, suspended: float, temperature_c: float, dt_h: float) -> float:
        chill = min(max((self.strain.settles_below_c - temperature_c) / 1.5, 0.0), 1.0)
        warmth = min(max((temperature_c - self.strain.wakes_above_c) / 2.0, 0.0), 1.0)
        settled = suspended / (1.0 + chill * dt_h / _SETTLING_H)
        return settled + (1.0 - settled) * min(warmth * dt_h / _RESUSPENSION_H, 1.0)

    def _sobriety(self, brew: Brew) -> float:
        return max(1.0 - (self.abw_pct(brew) / self.strain.tolerance_abw) ** 2, 0.0)

    def fermented(self, brew: Brew) -> float:
        """Extract gone so far, kg per kg of wort."""
        return self.fermentable - sum(brew.sugars)

    def _remaining_mass(self, brew: Brew) -> float:
        return 1.0 - self.fermented(brew) * (CO2_PER_EXTRACT + YEAST_PER_EXTRACT)

    def abw_pct(self, brew: Brew) -> float:
        return 100.0 * self.fermented(brew) / EXTRACT_PER_ETHANOL / self._remaining_mass(brew)

    def abv_pct(self, brew: Brew) -> float:
        return self.abw_pct(brew) * self.gravity_sg(brew) / ETHANOL_SG_20

    def real_extract_pct(self, brew: Brew) -> float:
        return (self.original_plato - 100.0 * self.fermented(brew)) / self._remaining_mass(brew)

    def gravity_sg(self, brew: Brew) -> float:
        """Apparent, SG 20/20."""
        apparent = (self.real_extract_pct(brew) - _SHARE_ORIGINAL * self.original_plato) / _SHARE_APPARENT
        return plato_to_sg(apparent)

    def attenuation(self, brew: Brew) -> float:
        """Apparent, 0..1."""
        return (self.original_sg - self.gravity_sg(brew)) / (self.original_sg - 1.0)

    def co2_g(self, brew: Brew) -> float:
        """Given off so far, grams."""
        return 1000.0 * self.mass_kg * self.fermented(brew) * CO2_PER_EXTRACT

    def co2_g_per_h(self, brew: Brew) -> float:
        return 1000.0 * self.mass_kg * brew.fermenting * CO2_PER_EXTRACT * _SECONDS_PER_HOUR

    def heat_w(self, brew: Brew) -> float:
        return self.mass_kg * brew.fermenting * HEAT_OF_FERMENTATION_KJ_PER_KG * 1000.0


def roused(brew: Brew) -> Brew:
    """The same beer with its yeast stirred up from the bottom."""
    return replace(brew, suspended=1.0)


def _taken_up(sugars: tuple[float, ...], full_uptake: float) -> tuple[float, ...]:
    """What is left of each pool; backward Euler, so that none goes below nothing whatever the step."""
    left: list[float] = []
    freedom = 1.0
    for sugar, amount in zip(SUGARS, sugars, strict=True):
        share = full_uptake * sugar.uptake * freedom / (sugar.half_saturation + amount)
        left.append(amount / (1.0 + share))
        freedom *= sugar.represses / (sugar.represses + amount)
    return tuple(left)
