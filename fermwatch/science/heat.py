"""Heat of fermentation: how much beer warms itself, and with what power.

Sources: 586 kJ per kg of real extract fermented (252 BTU/lb = 140 kcal/kg, the trade's figure), between 563 (glucose)
and 606 kJ/kg (maltose) by reaction enthalpies (NBS tables); specific heat of sugar juice as printed by Bubnik et al.
1995. The 1216 kJ/kg found in some textbooks is the Gibbs energy and doubles the warming.
"""

from fermwatch.science.alcohol import ORIGINAL_HIGH_PLATO, fermented_extract_pct
from fermwatch.science.extract import WATER_DENSITY_20, plato_to_sg
from fermwatch.science.numeric import Number, beside, within

HEAT_OF_FERMENTATION_KJ_PER_KG = 586.0
HEAT_UNCERTAINTY = 0.08
SECONDS_PER_DAY = 86_400.0


def specific_heat_kj_per_kg_k(plato: Number, temperature_c: Number) -> Number:
    """Return kJ/(kg K) of wort, or of beer at its real extract.

    Domain 0..40 °P and 0..100 °C, OutOfDomain outside.
    """
    within(plato, 0.0, 40.0, quantity="extract", unit="°P")
    within(temperature_c, 0.0, 100.0, quantity="temperature", unit="°C")
    return 4.1868 - 0.0297 * plato + 4.6e-5 * plato * 100.0 + 7.5e-5 * plato * temperature_c


def adiabatic_rise_k(oe: Number, ae: Number) -> Number:
    """Return the warming, K, of a ferment from OE to AE (°P) that loses no heat, good to 8 %.

    Domain: OE 0..35, AE -2.62..OE; OutOfDomain outside.
    """
    fermented = fermented_extract_pct(oe, ae) / 100.0
    return HEAT_OF_FERMENTATION_KJ_PER_KG * fermented / specific_heat_kj_per_kg_k(oe, beside(20.0, oe))


def wort_kg(volume_l: Number, oe: Number) -> Number:
    """Return the mass of wort, kg; domain 0..35 °P, volume above 0."""
    within(volume_l, 0.0, 1e6, quantity="volume", unit="L")
    within(oe, 0.0, ORIGINAL_HIGH_PLATO, quantity="original extract", unit="°P")
    return volume_l * plato_to_sg(oe) * WATER_DENSITY_20 / 1000.0


def power_w(volume_l: Number, oe: Number, real_extract_pct_per_day: Number) -> Number:
    """Return W given off while so much real extract (% of the wort's mass) ferments per day.

    20 L of 12 °P at 1 %/day give 1.42 W. Domain 0..35 °P and 0..15 %/day, OutOfDomain outside.
    """
    within(real_extract_pct_per_day, 0.0, 15.0, quantity="extract fermented", unit="%/day")
    kg_per_day = wort_kg(volume_l, oe) * real_extract_pct_per_day / 100.0
    return kg_per_day * HEAT_OF_FERMENTATION_KJ_PER_KG * 1000.0 / SECONDS_PER_DAY
