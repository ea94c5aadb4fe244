"""`calc alcohol`: alcohol, real extract, attenuation and food energy of an original and a final gravity."""

import argparse

from fermwatch.commands import amounts
from fermwatch.commands.calculations.calculated import Calculated, is_us, rounded
from fermwatch.errors import InputError
from fermwatch.science import alcohol, slips
from fermwatch.science.extract import sg_to_plato

PURPOSE = "alcohol, real extract, attenuation and energy, from OG and FG"
GLASS_ML = 500.0
GLASS_US_FL_OZ, GLASS_US_ML = 12, 355.0


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("original", metavar="OG", help="original gravity: 1.052 or 12.9P")
    parser.add_argument("final", metavar="FG", help="final gravity: 1.010 or 2.6P")


def answer(options: argparse.Namespace) -> Calculated:
    og_sg, fg_sg = gravities(options.original, options.final)
    oe, ae = sg_to_plato(og_sg), sg_to_plato(fg_sg)
    kcal = alcohol.energy_kcal_per_100_ml(oe, ae)
    kj = kcal * alcohol.KJ_PER_KCAL
    energy = f"{kcal:.0f} kcal ({kj:.0f} kJ) per 100 mL, {kcal * GLASS_ML / 100.0:.0f} kcal in {GLASS_ML:.0f} mL"
    if is_us(options):
        energy = f"{kcal * GLASS_US_ML / 100.0:.0f} kcal in {GLASS_US_FL_OZ} fl oz"
    figures = {
        "alcohol_by_volume_pct": rounded(alcohol.abv(oe, ae), 3),
        "alcohol_by_volume_uncertainty_pct": rounded(alcohol.abv_uncertainty(og_sg, fg_sg), 3),
        "alcohol_by_mass_pct": rounded(alcohol.abw(oe, ae), 3),
        "real_extract_pct": rounded(alcohol.real_extract(oe, ae), 3),
        "apparent_attenuation_pct": rounded(alcohol.apparent_attenuation(oe, ae), 2),
        "real_attenuation_pct": rounded(alcohol.real_attenuation(oe, ae), 2),
        "energy_kcal_per_100_ml": rounded(kcal, 2),
        "energy_kj_per_100_ml": rounded(kj, 1),
    }
    pairs = [
        ("original, final", f"{og_sg:.4f} ({oe:.2f} °P), {fg_sg:.4f} ({ae:.2f} °P)"),
        (
            "alcohol by volume",
            f"{figures['alcohol_by_volume_pct']:.2f} ±{figures['alcohol_by_volume_uncertainty_pct']:.2f} %",
        ),
        ("alcohol by mass", f"{figures['alcohol_by_mass_pct']:.2f} %"),
        ("real extract", f"{figures['real_extract_pct']:.2f} % by mass"),
        ("apparent attenuation", f"{figures['apparent_attenuation_pct']:.1f} %"),
        ("real attenuation", f"{figures['real_attenuation_pct']:.1f} %"),
        ("energy", energy),
    ]
    return Calculated(figures, pairs)


def gravities(original: str, final: str) -> tuple[float, float]:
    """Both as SG 20/20. InputError where one cannot be, or they are swapped."""
    og_sg = amounts.gravity_sg(original, what="original gravity")
    fg_sg = amounts.gravity_sg(final, what="final gravity")
    slip = slips.pair_slip(round(og_sg, 4), round(fg_sg, 4))
    if slip is not None:
        raise InputError(slip)
    return og_sg, fg_sg
