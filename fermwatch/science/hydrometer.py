"""A hydrometer read at another temperature than the one it was made for.

The stem floats where `rho(w, t) (1 + g (t - t0)) = R rho_water(t0)`; solved for the composition w with ICUMSA's
density, because wort expands more than water does. g = 25e-6 /K is the conventional cubic expansion of soda-lime
glass (ISO 1768). Fermented beer is treated as the wort solution of the same reading; `uncertainty_sg` carries what
that costs.
"""

import math

from fermwatch.science.extract import (
    REFERENCE_C,
    mass_pct_from_density,
    relative_density,
    water_density,
)
from fermwatch.science.numeric import Number, beside, within

GLASS_EXPANSION_PER_K = 25e-6
TEMPERATURE_LOW_C, TEMPERATURE_HIGH_C = 0.0, 40.0
READING_LOW, READING_HIGH = 0.985, 1.180


def correct_sg(reading_sg: Number, temperature_c: Number, calibration_c: float = REFERENCE_C) -> Number:
    """Return the SG t0/t0 on the hydrometer's own scale (t0 = `calibration_c`) of a reading taken at `temperature_c`.

    Domain: readings 0.985..1.180, 0..40 °C; OutOfDomain outside.
    """
    mass_pct = extract_pct(reading_sg, temperature_c, calibration_c)
    return relative_density(mass_pct, beside(calibration_c, mass_pct), calibration_c)


def correct_to_sg_20(reading_sg: Number, temperature_c: Number, calibration_c: float = REFERENCE_C) -> Number:
    """Return SG 20/20, whatever the scale of the hydrometer: the gravity that everything else here works in."""
    mass_pct = extract_pct(reading_sg, temperature_c, calibration_c)
    return relative_density(mass_pct, beside(REFERENCE_C, mass_pct))


def extract_pct(reading_sg: Number, temperature_c: Number, calibration_c: float = REFERENCE_C) -> Number:
    """Return the apparent extract, % by mass (°P), of the solution that floats the stem so."""
    within(reading_sg, READING_LOW, READING_HIGH, quantity="hydrometer reading", unit="SG")
    within(
        temperature_c,
        TEMPERATURE_LOW_C,
        TEMPERATURE_HIGH_C,
        quantity="sample temperature",
        unit="°C",
        hint="Cool the sample: no correction is good above 40 °C, and hot samples lose water.",
    )
    return mass_pct_from_density(_floated_density(reading_sg, temperature_c, calibration_c), temperature_c)


def reading_sg(gravity_sg: Number, temperature_c: Number, calibration_c: float = REFERENCE_C) -> Number:
    """Return what the stem reads at `temperature_c` in a solution of SG t0/t0: the inverse of `correct_sg`."""
    density = gravity_sg * water_density(calibration_c)
    mass_pct = mass_pct_from_density(density, beside(calibration_c, gravity_sg))
    return relative_density(mass_pct, temperature_c, calibration_c) * _glass(temperature_c, calibration_c)


def uncertainty_sg(
    reading_sg: float,
    temperature_c: float,
    calibration_c: float = REFERENCE_C,
    *,
    reading_sd: float = 0.0005,
    temperature_sd_c: float = 0.5,
    fermented: bool = True,
) -> float:
    """Return the standard uncertainty (one sd) of a corrected reading, SG.

    Half a division of a 0.001 stem, half a degree of the thermometer, and for fermented beer 0.0003 above 30 or below
    8 °C, where 4 % ethanol expands otherwise than wort. The first two are common practice; set them to your own.
    """
    step = 0.5 if temperature_c < TEMPERATURE_HIGH_C - 0.5 else -0.5
    here = correct_sg(reading_sg, temperature_c, calibration_c)
    slope_per_k = (correct_sg(reading_sg, temperature_c + step, calibration_c) - here) / step
    model = 0.0003 if fermented and not 8.0 <= temperature_c <= 30.0 else 0.0001
    return math.hypot(reading_sd, slope_per_k * temperature_sd_c, model)


def correct_sg_water_only(reading_sg: Number, temperature_c: Number, calibration_c: float = REFERENCE_C) -> Number:
    """Return the correction by water's expansion alone: for comparison, 0.0014 wrong at 1.050 and 0 °C."""
    return _floated_density(reading_sg, temperature_c, calibration_c) / water_density(temperature_c)


def _floated_density(reading_sg: Number, temperature_c: Number, calibration_c: float) -> Number:
    return reading_sg * water_density(calibration_c) / _glass(temperature_c, calibration_c)


def _glass(temperature_c: Number, calibration_c: float) -> Number:
    return 1.0 + GLASS_EXPANSION_PER_K * (temperature_c - calibration_c)
