"""Refractometer: Brix against refractive index, temperature, unfermented and fermented beer.

Sources: OIV-MA-AS2-02 Table II (sucrose, 20 °C, 589 nm), with CRC Handbook values above 30 %; IAPWS R9-97 for the
refractive index of water by temperature; CRC Handbook (ethanol 5..10 %) for the refraction of ethanol. Fermented beer
is a mixture of three parts whose Lorentz-Lorenz refractions add up. The quartic is a fit to the OIV and CRC tables.
"""

import math

from fermwatch.science.alcohol import EXTRACT_PER_ETHANOL
from fermwatch.science.extract import (
    NBS_CUBIC,
    NBS_SLOPE,
    SG_HIGH,
    SG_LOW,
    WATER_DENSITY_20,
    plato_to_sg,
    sucrose_density,
    water_density,
)
from fermwatch.science.numeric import Number, beside, derivative, newton, polynomial, sqrt, within

WORT_CORRECTION_FACTOR = 1.04  # common practice: wort reads 4 % high; set to your own instrument's
BRIX_HIGH = 50.0
MODEL_HIGH_PLATO = 30.0

_INDEX = (1.3329862, 0.14283083, 0.053610749, 0.018095943, 0.000325874)  # in mass fraction
_INDEX_SLOPE = derivative(_INDEX)
_WATER_REFRACTION = 2.06058e-4  # m³/kg at 20 °C
_ETHANOL_REFRACTION = 2.7742e-4


def brix_to_nd(brix: Number) -> Number:
    """Return the refractive index at 20 °C and 589 nm of a sucrose solution (5e-6 of OIV at 10..30 %).

    Domain 0..50 °Bx; as an agreed continuation from -3 °Bx, which a cold instrument shows in water.
    """
    within(brix, -3.0, BRIX_HIGH, quantity="refractometer reading", unit="°Bx")
    return polynomial(_INDEX, brix / 100.0)


def nd_to_brix(nd: Number) -> Number:
    """Return °Bx of a refractive index at 20 °C and 589 nm: the exact inverse of `brix_to_nd`.

    Domain 1.3288..1.4202, OutOfDomain outside.
    """
    within(nd, 1.3287, 1.4202, quantity="refractive index", unit="nD")

    def step(fraction: Number) -> tuple[Number, Number]:
        return polynomial(_INDEX, fraction) - nd, polynomial(_INDEX_SLOPE, fraction)

    above_water = nd - _INDEX[0]
    return 100.0 * newton(above_water * (7.0 - 15.0 * above_water), step, steps=3)


def temperature_correction_brix(reading_brix: Number, temperature_c: Number) -> Number:
    """Return what to add to a reading of an instrument without automatic compensation, °Bx.

    Within 0.04 of OIV Table I (10..20 °C, the part that could be read); above 20 °C computed alone.
    Domain 0..30 °Bx and 5..40 °C, OutOfDomain outside.
    """
    within(reading_brix, 0.0, 30.0, quantity="refractometer reading", unit="°Bx")
    within(temperature_c, 5.0, 40.0, quantity="temperature", unit="°C")
    seen = brix_to_nd(reading_brix)

    def step(brix: Number) -> tuple[Number, Number]:
        slope = (_index_at(brix + 0.01, temperature_c) - _index_at(brix - 0.01, temperature_c)) / 0.02
        return _index_at(brix, temperature_c) - seen, slope

    return newton(reading_brix, step, steps=3) - reading_brix


def original_extract(brix: Number, wort_correction_factor: float = WORT_CORRECTION_FACTOR) -> Number:
    """Return °P of unfermented wort: the reading (at 20 °C or compensated) over the wort correction factor.

    Domain 0..50 °Bx, factor 0.98..1.06.
    """
    within(wort_correction_factor, 0.98, 1.06, quantity="wort correction factor", unit="")
    return within(brix, 0.0, BRIX_HIGH, quantity="refractometer reading", unit="°Bx") / wort_correction_factor


def temperature_correction_uncertainty_brix(reading_brix: float, temperature_c: float) -> float:
    """Return the standard uncertainty of `temperature_correction_brix`, °Bx.

    0.03 below 20 °C, as OIV Table I shows, and 5 % of the correction above, where nothing was read to check it; half a
    degree of the thermometer besides.
    """
    added = temperature_correction_brix(reading_brix, temperature_c)
    toward_20 = 0.5 if temperature_c < 20.0 else -0.5
    by_thermometer = temperature_correction_brix(reading_brix, temperature_c + toward_20) - added
    return math.hypot(0.03 if temperature_c <= 20.0 else 0.05 * added, by_thermometer)


def original_extract_uncertainty(
    brix: float, wort_correction_factor: float = WORT_CORRECTION_FACTOR, *, reading_sd_brix: float = 0.1
) -> float:
    """Return the standard uncertainty of `original_extract`, °P.

    The reading, and 2 % for a wort correction factor that was not found for this wort (0.98..1.06 are in use).
    """
    oe = original_extract(brix, wort_correction_factor)
    return math.hypot(reading_sd_brix / wort_correction_factor, 0.02 * oe)


def final_gravity(
    brix_initial: Number, brix_final: Number, wort_correction_factor: float = WORT_CORRECTION_FACTOR
) -> Number:
    """Return SG 20/20 of fermenting beer by the three-part model, at any attenuation.

    Domain: original extract 0..30 °P, final reading up to 0.1 °Bx over the initial one, and a result of SG 0.990 or
    more; OutOfDomain outside. Equal readings give the original gravity. Uncertainty: `final_gravity_uncertainty`.
    """
    oe = original_extract(brix_initial, wort_correction_factor)
    within(oe, 0.1, MODEL_HIGH_PLATO, quantity="original extract", unit="°P")
    within(
        brix_initial - brix_final,
        -0.1,
        BRIX_HIGH,
        quantity="fall of the reading",
        unit="°Bx",
        hint="Are the first and the last reading swapped?",
    )
    seen = _lorentz_lorenz(brix_to_nd(brix_final))
    og_sg = plato_to_sg(oe)
    extract_refraction = _extract_refraction(oe, og_sg, _lorentz_lorenz(brix_to_nd(brix_initial)))
    alcohol_per_ae = -0.8192 / (EXTRACT_PER_ETHANOL - 0.010665 * oe)
    per_extract = extract_refraction - _WATER_REFRACTION
    per_ethanol = _ETHANOL_REFRACTION - _WATER_REFRACTION
    per_ae = (0.8192 * per_extract + alcohol_per_ae * per_ethanol) / 100.0
    unfermented = _WATER_REFRACTION + oe / 100.0 * per_extract

    def step(gravity_sg: Number) -> tuple[Number, Number]:
        refraction = unfermented + per_ae * (polynomial(NBS_CUBIC, gravity_sg) - oe)
        slope = refraction + gravity_sg * per_ae * polynomial(NBS_SLOPE, gravity_sg)
        return gravity_sg * refraction - seen / WATER_DENSITY_20, slope

    solved = newton(og_sg, step, steps=3)
    return within(solved, SG_LOW, SG_HIGH, quantity="gravity found by refractometer", unit="SG")


def final_gravity_uncertainty(brix_initial: float, brix_final: float, *, reading_sd_brix: float = 0.1) -> float:
    """Return the standard uncertainty of `final_gravity`, SG.

    0.002 because worts differ in refractivity (the model's own), and the reading's share: about 0.006 SG per °Bx.
    A refractometer alone never shows that a ferment is finished.
    """
    low = final_gravity(brix_initial, brix_final)
    slope = abs(final_gravity(brix_initial, brix_final - 0.1) - low) / 0.1
    return math.hypot(0.002, slope * reading_sd_brix)


def fg_linear_regression(brix_initial_wcf: Number, brix_final_wcf: Number) -> Number:
    """Return Terrill's linear regression (2011), for comparison: unusable below 60 % attenuation.

    Readings already divided by the wort correction factor.
    """
    return 1.0 - 0.00085683 * brix_initial_wcf + 0.0034941 * brix_final_wcf


def fg_cubic_regression(brix_initial_wcf: Number, brix_final_wcf: Number) -> Number:
    """Return Terrill's cubic regression (2010), for comparison: unusable below 60 % attenuation."""
    by_initial = polynomial((1.0, -0.0044993, 2.7581e-4, -7.28e-6), brix_initial_wcf)
    return by_initial + polynomial((0.0, 0.011774, -0.0012717, 6.3293e-5), brix_final_wcf)


def fg_customary_cubic(brix_initial_wcf: Number, brix_final_wcf: Number) -> Number:
    """Return the older customary cubic, for comparison: 1 to 3 points low throughout."""
    by_initial = polynomial((1.001843, -0.002318474, -7.775e-6, -3.4e-8), brix_initial_wcf)
    return by_initial + polynomial((0.0, 0.00574, 3.344e-5, 8.6e-8), brix_final_wcf)


def water_index(temperature_c: Number) -> Number:
    """Return the refractive index of water at 589 nm and 1 atm (IAPWS R9-97); domain 0..100 °C."""
    density = water_density(temperature_c)
    refraction = density * _water_refraction(temperature_c, density)
    return sqrt((1.0 + 2.0 * refraction) / (1.0 - refraction))


def _water_refraction(temperature_c: Number, density_kg_m3: Number) -> Number:
    """Specific refraction (n² - 1)/(n² + 2)/rho, m³/kg, at 589 nm, where IAPWS's reduced wavelength is 1."""
    reduced_t = (temperature_c + 273.15) / 273.15
    reduced_rho = density_kg_m3 / 1000.0
    ultraviolet, infrared = 0.2292020, 5.432937
    by_wavelength = 1.58920570e-3 + 2.45934259e-3 / (1.0 - ultraviolet**2) + 0.900704920 / (1.0 - infrared**2)
    by_density = polynomial((0.244257733 + by_wavelength, 9.74634476e-3, -1.66626219e-2), reduced_rho)
    return (by_density + (2.68678472e-4 - 3.73234996e-3) * reduced_t) / 1000.0


def _index_at(brix: Number, temperature_c: Number) -> Number:
    """Refractive index of a sucrose solution at a temperature: its refraction changes as the water in it does."""
    at_20 = _lorentz_lorenz(brix_to_nd(brix)) / sucrose_density(brix, beside(20.0, brix))
    water_now = _water_refraction(temperature_c, water_density(temperature_c))
    water_at_20 = _water_refraction(20.0, water_density(20.0))
    refraction = at_20 + (1.0 - brix / 100.0) * (water_now - water_at_20)
    total = sucrose_density(brix, temperature_c) * refraction
    return sqrt((1.0 + 2.0 * total) / (1.0 - total))


def _extract_refraction(oe: Number, og_sg: Number, seen_initially: Number) -> Number:
    """Specific refraction of this wort's extract: what makes the unfermented wort read as it did."""
    fraction = oe / 100.0
    return (seen_initially / (og_sg * WATER_DENSITY_20) - (1.0 - fraction) * _WATER_REFRACTION) / fraction


def _lorentz_lorenz(index: Number) -> Number:
    squared = index * index
    return (squared - 1.0) / (squared + 2.0)
