"""`calc refractometer`: wort, or with what the wort read, beer at any stage of its fermentation."""

import argparse

from fermwatch.commands.calculations.calculated import Calculated, is_us, rounded
from fermwatch.commands.measurements.typed import (
    Typed,
    beer_by_refractometer,
    wort_by_refractometer,
)
from fermwatch.desk.correcting import Corrected
from fermwatch.science.alcohol import abv_from_gravity
from fermwatch.science.extract import sg_to_plato
from fermwatch.science.refractometer import brix_to_nd

PURPOSE = "a refractometer's reading of wort, or of beer with --original-brix"


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("reading", metavar="READING", help="as read: 12.4Bx")
    parser.add_argument("--original-brix", metavar="12.4", help="what it read in the wort: the reading is of beer")
    parser.add_argument("--sample", metavar="28C", help="temperature, where the instrument does not compensate")
    parser.add_argument("--wort-factor", metavar="1.04", help="the instrument's wort correction factor (1.04)")
    parser.add_argument("--water-check", metavar="0.2", help="what it reads in water")


def answer(options: argparse.Namespace) -> Calculated:
    sample = Typed(
        options.sample,
        water_check=options.water_check,
        wort_factor=options.wort_factor,
        us=is_us(options),
    )
    if options.original_brix is None:
        return _answer(wort_by_refractometer(options.reading, sample), {}, [])
    beer = beer_by_refractometer(options.reading, sample, original_brix=options.original_brix, original_sg=None)
    wort = wort_by_refractometer(options.original_brix, Typed(wort_factor=options.wort_factor))
    alcohol = abv_from_gravity(wort.gravity_sg, min(beer.gravity_sg, wort.gravity_sg))
    attenuation = (wort.gravity_sg - beer.gravity_sg) / (wort.gravity_sg - 1.0)
    figures = {
        "original_sg": rounded(wort.gravity_sg, 5),
        "apparent_attenuation_pct": rounded(100.0 * attenuation, 1),
        "alcohol_by_volume_pct": rounded(alcohol, 2),
    }
    pairs = [
        ("original gravity", f"{wort.gravity_sg:.4f} ({sg_to_plato(wort.gravity_sg):.1f} °P)"),
        ("apparent attenuation", f"{attenuation:.0%}"),
        ("alcohol", f"{alcohol:.1f} % by volume"),
    ]
    return _answer(beer, figures, pairs)


def _answer(corrected: Corrected, figures: dict[str, float], pairs: list[tuple[str, str]]) -> Calculated:
    first = {
        "gravity_sg": rounded(corrected.gravity_sg, 5),
        "uncertainty_sg": rounded(corrected.sd_points / 1000.0, 5),
        "extract_plato": rounded(sg_to_plato(corrected.gravity_sg), 3),
        "refractive_index_nd": rounded(brix_to_nd(corrected.reading), 5),
    }
    shown = [
        ("read", ", ".join((f"{corrected.reading:g} °Bx", *corrected.steps))),
        ("gravity", f"{corrected.gravity_sg:.4f} ±{corrected.sd_points / 1000.0:.4f} SG 20/20"),
        ("extract", f"{first['extract_plato']:.2f} °P"),
        *pairs,
    ]
    return Calculated(first | figures, shown, cautions=corrected.cautions)
