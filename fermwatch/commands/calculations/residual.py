"""The CO2 that beer holds before the sugar: options that several calculations share."""

import argparse

from fermwatch.commands import amounts
from fermwatch.commands.calculations.calculated import is_us
from fermwatch.errors import InputError
from fermwatch.science.carbonation import ResidualCo2, residual_interval, residual_interval_fed
from fermwatch.science.solubility import ATMOSPHERE_BAR, pressure_at_altitude_bar


def arguments(parser: argparse.ArgumentParser) -> None:
    held = parser.add_argument_group("CO2 held before the sugar")
    held.add_argument("--warmest", metavar="21C", help="warmest the beer was since fermentation was active")
    held.add_argument("--ended", metavar="19C", help="temperature when activity ended (as --warmest)")
    held.add_argument("--head-pressure", metavar="0.2bar", help="over the beer when activity ended, gauge (0)")
    held.add_argument("--fed", action="store_true", help="CO2 was fed: --ended and --head-pressure are those of now")
    held.add_argument("--altitude", metavar="350m", help="above the sea: thin air holds less CO2 in beer")


def atmosphere_bar(options: argparse.Namespace) -> float:
    if options.altitude is None:
        return ATMOSPHERE_BAR
    return pressure_at_altitude_bar(amounts.metres(options.altitude, what="--altitude", us=is_us(options)))


def interval(options: argparse.Namespace) -> ResidualCo2:
    """InputError where the temperature is not said: it decides, and nothing stands for it."""
    us = is_us(options)
    if options.warmest is None:
        raise InputError(
            "How warm was the beer at its warmest since fermentation was active?",
            hint="Add --warmest 21C: not today's temperature, for a warm rest drives CO2 out for good.",
        )
    warmest_c = amounts.temperature_c(options.warmest, what="--warmest", us=us)
    ended_c = warmest_c if options.ended is None else amounts.temperature_c(options.ended, what="--ended", us=us)
    head_bar = 0.0
    if options.head_pressure is not None:
        head_bar = amounts.pressure_bar(options.head_pressure, what="--head-pressure", us=us)
    air_bar = atmosphere_bar(options)
    if options.fed:
        return residual_interval_fed(warmest_c, ended_c, head_bar, atmosphere_bar=air_bar)
    return residual_interval(warmest_c, ended_c, head_pressure_bar_gauge=head_bar, atmosphere_bar=air_bar)


def words(held: ResidualCo2) -> str:
    return f"{held.low:.2f} to {held.high:.2f} volumes, sugar reckoned on {held.middle:.2f}"
