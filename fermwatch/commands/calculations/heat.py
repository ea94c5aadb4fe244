"""`calc heat`: how much a fermentation warms itself, with what power, and how much CO2 it gives off."""

import argparse

from fermwatch.commands import amounts
from fermwatch.commands.calculations.alcohol import gravities
from fermwatch.commands.calculations.calculated import Calculated, rounded
from fermwatch.model.amounts import warmth
from fermwatch.saying.voice import Voice
from fermwatch.science import heat
from fermwatch.science.alcohol import fermented_extract_pct
from fermwatch.science.carbonation import batch_co2_kg
from fermwatch.science.extract import sg_to_plato
from fermwatch.science.solubility import GRAMS_PER_LITRE_PER_VOLUME

PURPOSE = "warming and power of a fermentation, and its CO2"
KG_PER_POUND, LITRES_PER_CUBIC_FOOT = 0.45359237, 28.316846592  # exact, by definition
GAS_L_PER_KG = 1000.0 / GRAMS_PER_LITRE_PER_VOLUME * 293.15 / 273.15  # at 20 °C and 1 atm
ROOM = (
    "A fridge, worse a chest freezer, is full of CO2: open it, wait a minute, keep your head out; ventilate the room."
)


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("original", metavar="OG", help="original gravity: 1.052 or 12.9P")
    parser.add_argument("final", metavar="FG", help="final gravity: 1.010 or 2.6P")
    parser.add_argument("--volume", default="20L", metavar="20L", help="of wort (20L)")
    parser.add_argument("--rate", default="3", metavar="PERCENT", help="real extract a day, %% of the wort (3)")


def answer(options: argparse.Namespace) -> Calculated:
    og_sg, fg_sg = gravities(options.original, options.final)
    oe, ae = max(sg_to_plato(og_sg), 0.0), sg_to_plato(fg_sg)
    volume_l = amounts.volume_l(options.volume, what="--volume", gallon=options.reader.gallon)
    rate = amounts.percent(options.rate, what="--rate", high=15.0)
    rise_k = heat.adiabatic_rise_k(oe, ae)
    total_kj = heat.wort_kg(volume_l, oe) * fermented_extract_pct(oe, ae) / 100.0 * heat.HEAT_OF_FERMENTATION_KJ_PER_KG
    power_w = heat.power_w(volume_l, oe, rate)
    co2_kg = batch_co2_kg(volume_l, oe, ae)
    rise = Voice(options.reader).text(warmth(rise_k))
    return Calculated(
        {
            "adiabatic_rise_k": rounded(rise_k, 2),
            "heat_kj": rounded(total_kj, 1),
            "power_w": rounded(power_w, 2),
            "specific_heat_kj_per_kg_k": rounded(heat.specific_heat_kj_per_kg_k(oe, 20.0)),
            "co2_kg": rounded(co2_kg, 3),
        },
        [
            ("wort", f"{amounts.litres_said(volume_l, options.reader.gallon)} of {oe:.1f} °P, to {ae:.1f} °P"),
            ("warming, kept in", f"{rise}, if no heat were lost"),
            ("heat in all", f"{total_kj / 3600.0:.2f} kWh, good to {heat.HEAT_UNCERTAINTY:.0%}"),
            ("power", f"{power_w:.1f} W while {rate:g} % of extract ferment a day"),
            ("CO2 in all", _co2_words(co2_kg, us=options.reader.gallon is not None)),
        ],
        cautions=[ROOM],
    )


def _co2_words(kg: float, *, us: bool) -> str:
    gas_l = kg * GAS_L_PER_KG
    if us:
        return f"{kg / KG_PER_POUND:.2f} lb, about {gas_l / LITRES_PER_CUBIC_FOOT:.0f} cubic feet of gas"
    return f"{kg:.2f} kg, about {gas_l:.0f} L of gas"
