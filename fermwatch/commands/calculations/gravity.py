"""`calc gravity`: specific gravity, °Plato, °Brix, points and density, each from any of them."""

import argparse

from fermwatch.commands import amounts
from fermwatch.commands.calculations.calculated import Calculated, rounded
from fermwatch.science.extract import (
    OLD_REFERENCE_C,
    REFERENCE_C,
    sg_between_scales,
    sg_to_plato,
    water_density,
)

PURPOSE = "SG, °Plato, points and density, from any of them"


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("gravity", nargs="+", metavar="GRAVITY", help="1.048, 12.1P, 12.1Bx (sucrose), 48points")


def answer(options: argparse.Namespace) -> Calculated:
    found = [_row(amounts.gravity_sg(text, what="gravity")) for text in options.gravity]
    body = [
        (
            f"{one['gravity_sg']:.4f}",
            f"{one['extract_plato']:.2f}",
            f"{one['points']:.1f}",
            f"{one['gravity_sg_15_56']:.4f}",
            f"{one['density_20_kg_m3']:.1f}",
        )
        for one in found
    ]
    header = ("SG 20/20", "°P = °Bx", "points", "SG 15.56/15.56", "kg/m³ at 20 °C")
    return Calculated({"gravities": found}, header=header, body=body)


def _row(gravity_sg: float) -> dict[str, float]:
    density = gravity_sg * water_density(REFERENCE_C)
    return {
        "gravity_sg": rounded(gravity_sg, 5),
        "extract_plato": rounded(sg_to_plato(gravity_sg), 3),
        "points": rounded(1000.0 * (gravity_sg - 1.0), 2),
        "gravity_sg_15_56": rounded(sg_between_scales(gravity_sg, REFERENCE_C, OLD_REFERENCE_C), 5),
        "density_20_kg_m3": rounded(density, 2),
    }
