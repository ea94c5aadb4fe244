"""`calc priming`: how much of which sugar for a carbonation, on what the beer holds already."""

import argparse

from fermwatch.commands import amounts
from fermwatch.commands.calculations import places, residual
from fermwatch.commands.calculations.calculated import Calculated, is_us, rounded
from fermwatch.commands.calculations.risk import VALVE
from fermwatch.desk.pressure_words import held_words
from fermwatch.saying.voice import Gallon
from fermwatch.science.carbonation import SUGARS, Sugar, sugar_for_rise_g_per_l, sugar_named
from fermwatch.science.packages import CAUTION
from fermwatch.science.solubility import headspace_volumes

PURPOSE = "priming sugar for a carbonation: named sugars, residual CO2"
WEIGH = (
    "Weigh the sugar for the beer that is in the bottling bucket, boil it in a little water, stir gently and wholly."
)

NO_SUGAR = "No sugar is needed: the beer already holds more CO2 than that."


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--volumes", required=True, metavar="2.4", help="of CO2 wanted")
    parser.add_argument("--volume", metavar="19L", help="of beer, measured in the bottling bucket")
    parser.add_argument("--sugar", action="append", metavar="NAME", help=f"one or more of {', '.join(SUGARS)}")
    parser.add_argument("--headspace", metavar="PERCENT", help="of a keg left empty: its CO2 is counted too")
    parser.add_argument("--conditioning", default="20C", metavar="20C", help="where a keg conditions (20C)")
    residual.arguments(parser)


def answer(options: argparse.Namespace) -> Calculated:
    us = is_us(options)
    target = amounts.volumes_co2(options.volumes, what="--volumes")
    held = residual.interval(options)
    volume_l = (
        None
        if options.volume is None
        else amounts.volume_l(options.volume, what="--volume", gallon=options.reader.gallon)
    )
    sugars = [sugar_named(name) for name in options.sugar] if options.sugar else list(SUGARS.values())
    over_beer = _over_beer(options, target, us=us)
    held_enough = target <= held.middle
    doses = [
        (sugar, 0.0 if held_enough else sugar_for_rise_g_per_l(target + over_beer, held.middle, sugar.slug))
        for sugar in sugars
    ]
    return Calculated(
        {
            "volumes": target,
            "residual_low_volumes": rounded(held.low),
            "residual_high_volumes": rounded(held.high),
            "headspace_volumes": rounded(over_beer),
            "beer_l": volume_l,
            "sugars": [_figures(sugar, dose, volume_l) for sugar, dose in doses],
        },
        [
            ("carbonation wanted", f"{target:g} volumes"),
            ("above the sea", residual.altitude_words(options)),
            ("CO2 in the beer", held_words(held)),
            ("in the headspace", f"{over_beer:.2f} volumes more" if over_beer else ""),
            ("beer", "" if volume_l is None else amounts.litres_said(volume_l, options.reader.gallon)),
        ],
        ("sugar", amounts.dose_unit(options.reader.gallon), *(() if volume_l is None else ("in all",))),
        [] if held_enough else [_row(sugar, dose, volume_l, options.reader.gallon) for sugar, dose in doses],
        [NO_SUGAR] if held_enough else [WEIGH],
        [VALVE if over_beer else CAUTION],
    )


def _over_beer(options: argparse.Namespace, target: float, *, us: bool) -> float:
    """Volumes that a keg's headspace takes; a bottle's is small, and left out on the safe side."""
    if options.headspace is None:
        return 0.0
    share = amounts.percent(options.headspace, what="--headspace", low=0.0, high=60.0) / 100.0
    return headspace_volumes(target, places.celsius(options.conditioning, "--conditioning", us=us), share)


def _figures(sugar: Sugar, dose: float, volume_l: float | None) -> dict[str, float | str | None]:
    return {
        "sugar": sugar.slug,
        "sugar_g_per_l": rounded(dose, 3),
        "sugar_g": None if volume_l is None else rounded(dose * volume_l, 1),
        "yield_uncertainty": sugar.spread,
    }


def _row(sugar: Sugar, dose: float, volume_l: float | None, gallon: Gallon | None) -> tuple[str, ...]:
    name = f"{sugar.name} (±{sugar.spread:.0%}, common practice)" if sugar.common_practice else sugar.name
    total = () if volume_l is None else (amounts.grams_said(dose * volume_l, us=gallon is not None),)
    return (name, f"{amounts.dose_in(dose, gallon):.2f}", *total)
