"""`calc keg`: the pressure to set for a carbonation, or the carbonation that a pressure gives."""

import argparse

from fermwatch.commands import amounts
from fermwatch.commands.calculations import places, residual
from fermwatch.commands.calculations.calculated import Calculated, is_us, rounded
from fermwatch.desk.pressure_words import AIR
from fermwatch.errors import InputError
from fermwatch.model.amounts import typed_temperature
from fermwatch.science.solubility import ATMOSPHERE_BAR, pressure_bar_gauge, volumes

PURPOSE = "keg pressure for a carbonation, or the reverse"
TABLE_C = (-1.0, 1.0, 3.0, 5.0, 7.0, 10.0, 13.0, 16.0, 20.0)
FORCED = (
    "In balance after 7 to 14 days at that pressure, sooner if it is rocked (common practice); good to 5 %. No sugar. "
    "Stay below the rating stamped on the keg."
)
PRIMED = "To prime a keg with sugar instead: calc priming --headspace 5%, and let it condition warm."


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("volumes", nargs="?", metavar="VOLUMES", help="of CO2 wanted, as 2.4")
    parser.add_argument("--pressure", metavar="0.8bar", help="gauge: gives the volumes that it holds in the beer")
    parser.add_argument("--temperature", metavar="4C", help="of the beer; without, a table")
    residual.altitude_argument(parser)


def answer(options: argparse.Namespace) -> Calculated:
    us, air_bar = is_us(options), residual.atmosphere_bar(options) or ATMOSPHERE_BAR
    if (options.volumes is None) == (options.pressure is None):
        example = f"fermwatch calc keg 2.4 --temperature {typed_temperature(4)}"
        raise InputError("Say the volumes wanted, or --pressure.", hint=f"As: {example}")
    temperatures: tuple[float, ...] = TABLE_C
    if options.temperature is not None:
        temperatures = (places.celsius(options.temperature, "--temperature", us=us),)
    if options.pressure is not None:
        bar = amounts.pressure_bar(options.pressure, what="--pressure", us=us)
        rows = [(celsius, bar, volumes(bar, celsius, atmosphere_bar=air_bar)) for celsius in temperatures]
    else:
        wanted = amounts.volumes_co2(options.volumes, what="volumes")
        rows = [(one, pressure_bar_gauge(wanted, one, atmosphere_bar=air_bar), wanted) for one in temperatures]
    return Calculated(
        {
            "by_temperature": [
                {"beer_c": rounded(celsius, 2), "pressure_bar_gauge": rounded(bar), "volumes": rounded(held)}
                for celsius, bar, held in rows
            ]
        },
        pairs=[("above the sea", residual.altitude_words(options))],
        header=("beer at", "pressure, gauge", "volumes"),
        body=[(amounts.celsius_said(celsius, us=us), _set(bar, us=us), f"{held:.2f}") for celsius, bar, held in rows],
        remarks=[FORCED, PRIMED],
        cautions=[AIR],
    )


def _set(bar: float, *, us: bool) -> str:
    return amounts.bar_said(bar, us=us, places=2) if bar >= 0.0 else "none: held without"
