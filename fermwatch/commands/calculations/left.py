"""`calc left`: what gravity still to ferment would add to the carbonation of a bottle."""

import argparse

from fermwatch.commands import amounts
from fermwatch.commands.calculations.alcohol import gravities
from fermwatch.commands.calculations.calculated import Calculated, rounded
from fermwatch.errors import InputError
from fermwatch.science.carbonation import co2_from_gravity_drop_g_per_l, volumes_left
from fermwatch.science.packages import CAUTION

PURPOSE = "CO2 that unfermented gravity would still give in a bottle"


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("original", metavar="OG", help="original gravity")
    parser.add_argument("now", metavar="NOW", help="gravity when it is bottled")
    parser.add_argument("end", metavar="END", help="gravity where it can end: a forced ferment's")


def answer(options: argparse.Namespace) -> Calculated:
    og_sg, now_sg = gravities(options.original, options.now)
    end_sg = amounts.gravity_sg(options.end, what="end")
    if end_sg > now_sg:
        raise InputError(f"The end {end_sg:.3f} is above the gravity now {now_sg:.3f}: are the two swapped?")
    held = volumes_left(og_sg, now_sg, end_sg)
    grams = co2_from_gravity_drop_g_per_l(og_sg, now_sg, end_sg)
    weighed = "" if options.reader.gallon else f" ({grams:.2f} g/L)"
    points = 1000.0 * (now_sg - end_sg)
    return Calculated(
        {"left_points": rounded(points, 2), "co2_g_per_l": rounded(grams), "co2_volumes": rounded(held)},
        [
            ("still to ferment", f"{points:.1f} points"),
            ("CO2 from it", f"{held:.2f} volumes{weighed}, on top of what the beer holds and of any sugar"),
        ],
        cautions=[CAUTION],
    )
