"""Alcohol, real extract and attenuation from original and apparent extract.

Sources: Balling's yields (Die Gaerungschemie, 1850s: 100 parts extract give 48.391 ethanol, 46.286 CO2, 5.323 dry
yeast); Nielsen, Kristiansen, Lassen & Erikstroem, Brauwelt International 2007 (the same balance); the customary real
extract 0.1808 OE + 0.8192 AE; RDF constant and food energy of ASBC Beer-6B and Beer-33 (both from memory).
The convention is what labels and tables use, made for worts to 30 °P; the true figure lies within 2 % of it. Up to
35 °P it is carried on at half that trust (`abv_uncertainty`).
"""

import math

from fermwatch.science.extract import PLATO_LOW, plato_to_sg, sg_to_plato
from fermwatch.science.numeric import Number, within

BALLING_YIELD_PER_100G_EXTRACT = {"ethanol": 48.391, "co2": 46.286, "yeast_dry": 5.323}
EXTRACT_PER_ETHANOL = 2.0665
CO2_PER_ETHANOL = 0.9565
ETHANOL_SG_20 = 0.79066
ORIGINAL_HIGH_PLATO = 35.0
CONVENTION_HIGH_PLATO = 30.0
KJ_PER_KCAL = 4.184

_REAL_PER_APPARENT = 0.8192
_LEAVES_AS_GAS_AND_YEAST = 0.010665  # 0.01 (2.0665 - 1): what leaves the liquid as CO2 and yeast per ethanol
_SWAPPED = "Are original and final swapped?"


def real_extract(oe: Number, ae: Number) -> Number:
    """Return the real extract RE, % by mass, of original and apparent extract in °P.

    Domain: OE 0..35, AE -2.62..OE; OutOfDomain outside, with the likely slip.
    """
    _check_pair(oe, ae)
    return (1.0 - _REAL_PER_APPARENT) * oe + _REAL_PER_APPARENT * ae


def abw(oe: Number, ae: Number) -> Number:
    """Return ethanol, % by mass: (OE - RE)/(2.0665 - 0.010665 OE); domain as `real_extract`."""
    _check_pair(oe, ae)
    return _REAL_PER_APPARENT * (oe - ae) / (EXTRACT_PER_ETHANOL - _LEAVES_AS_GAS_AND_YEAST * oe)


def abv(oe: Number, ae: Number) -> Number:
    """Return ethanol, % by volume at 20 °C: ABW x SG of the beer / 0.79066 (OIML R 22); domain as `real_extract`."""
    return abw(oe, ae) * plato_to_sg(ae) / ETHANOL_SG_20


def abv_from_gravity(og_sg: Number, fg_sg: Number) -> Number:
    """Return ethanol, % by volume at 20 °C, of original and final gravity SG 20/20.

    Domain: OG to 1.153 (35 °P), FG 0.990..OG; OutOfDomain outside.
    """
    return abw(sg_to_plato(og_sg), sg_to_plato(fg_sg)) * fg_sg / ETHANOL_SG_20


def abv_uncertainty(og_sg: float, fg_sg: float, *, gravity_sd: float = 0.0005) -> float:
    """Return the standard uncertainty of `abv_from_gravity`, % by volume.

    Two readings of `gravity_sd` each (about 131 % vol per SG) and 1 % of the value for the convention, whose error
    against the balance solved with measured densities runs to 2 %; 2 % of the value above 30 °P.
    """
    value = abv_from_gravity(og_sg, fg_sg)
    convention = 0.01 if sg_to_plato(og_sg) <= CONVENTION_HIGH_PLATO else 0.02
    return math.hypot(131.25 * gravity_sd, 131.25 * gravity_sd, convention * value)


def original_extract(abw_pct: Number, re: Number) -> Number:
    """Return the original extract, °P, of measured alcohol and real extract: Balling's balance, the inverse of `abw`.

    Domain: ABW 0..20 % by mass, RE 0..40 % by mass.
    """
    within(abw_pct, 0.0, 20.0, quantity="ethanol", unit="% by mass")
    within(re, 0.0, 40.0, quantity="real extract", unit="% by mass")
    return 100.0 * (EXTRACT_PER_ETHANOL * abw_pct + re) / (100.0 + 100.0 * _LEAVES_AS_GAS_AND_YEAST * abw_pct)


def apparent_attenuation(oe: Number, ae: Number) -> Number:
    """Return ADF, % of the original extract: 100 (OE - AE)/OE; OE above 0.1 °P."""
    _check_pair(oe, ae)
    within(oe, 0.1, ORIGINAL_HIGH_PLATO, quantity="original extract", unit="°P")
    return 100.0 * (oe - ae) / oe


def real_attenuation(oe: Number, ae: Number) -> Number:
    """Return RDF, %, with the ASBC mass correction /(1 - 0.005161 RE): 1..5 % above the plain ratio.

    Domain as `apparent_attenuation`.
    """
    within(oe, 0.1, ORIGINAL_HIGH_PLATO, quantity="original extract", unit="°P")
    re = real_extract(oe, ae)
    return 100.0 * (oe - re) / oe / (1.0 - 0.005161 * re)


def energy_kcal_per_100_ml(oe: Number, ae: Number) -> Number:
    """Return the food energy, kcal per 100 mL: (6.9 ABW + 4.0 (RE - 0.1)) SG (ASBC Beer-33, from memory).

    Within 4 % of the 7 and 4 kcal/g of the European labelling regulation. Domain as `real_extract`.
    """
    re = real_extract(oe, ae)
    return (6.9 * abw(oe, ae) + 4.0 * (re - 0.1)) * plato_to_sg(ae)


def fermented_extract_pct(oe: Number, ae: Number) -> Number:
    """Return the extract consumed, % of the wort's mass, by the exact balance: 206.65 A/(100 + 1.0665 A)."""
    alcohol = abw(oe, ae)
    return 100.0 * EXTRACT_PER_ETHANOL * alcohol / (100.0 + 100.0 * _LEAVES_AS_GAS_AND_YEAST * alcohol)


def abv_by_gravity_drop(og_sg: Number, fg_sg: Number) -> Number:
    """Return (OG - FG) x 131.25, for comparison: 0.1 % vol low at OG 1.060, 0.6 at 1.120."""
    return (og_sg - fg_sg) * 131.25


def _check_pair(oe: Number, ae: Number) -> None:
    within(oe, -0.01, ORIGINAL_HIGH_PLATO, quantity="original extract", unit="°P")
    within(ae, PLATO_LOW, ORIGINAL_HIGH_PLATO, quantity="apparent extract", unit="°P")
    within(oe - ae, 0.0, ORIGINAL_HIGH_PLATO - PLATO_LOW, quantity="extract fermented", unit="°P", hint=_SWAPPED)
