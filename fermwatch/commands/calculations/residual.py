"""The CO2 that beer holds before the sugar: options that several calculations share."""

import argparse

from fermwatch.commands import amounts
from fermwatch.commands.calculations.calculated import is_us
from fermwatch.desk.residual import Held
from fermwatch.science.carbonation import ResidualCo2
from fermwatch.science.solubility import TEMPERATURE_LOW_C, pressure_at_altitude_bar


def arguments(parser: argparse.ArgumentParser) -> None:
    held = parser.add_argument_group("CO2 held before the sugar")
    held.add_argument("--warmest", metavar="21C", help="warmest the beer was since fermentation was active")
    held.add_argument("--ended", metavar="19C", help="temperature when activity ended (as --warmest)")
    held.add_argument("--head-pressure", metavar="0.2bar", help="over the beer when activity ended, gauge (0)")
    held.add_argument("--fed", action="store_true", help="CO2 was fed: --ended and --head-pressure are those of now")
    altitude_argument(held)


def altitude_argument(parser: argparse._ActionsContainer) -> None:
    parser.add_argument("--altitude", metavar="350m", help="above the sea; of a batch, without it, as is configured")


def altitude_words(options: argparse.Namespace) -> str:
    """A calculation knows no place: what it was reckoned for is said, since it matters."""
    return "0 m (--altitude says another)" if options.altitude is None else options.altitude.strip()


def atmosphere_bar(options: argparse.Namespace) -> float | None:
    """Of the altitude said; None where none is."""
    if options.altitude is None:
        return None
    return pressure_at_altitude_bar(amounts.metres(options.altitude, what="--altitude", us=is_us(options)))


def held(options: argparse.Namespace) -> Held:
    us = is_us(options)
    celsius = (
        None if typed is None else amounts.temperature_c(typed, what=what, us=us, low_c=TEMPERATURE_LOW_C)
        for typed, what in ((options.warmest, "--warmest"), (options.ended, "--ended"))
    )
    warmest_c, ended_c = celsius
    head_bar = 0.0
    if options.head_pressure is not None:
        head_bar = amounts.pressure_bar(options.head_pressure, what="--head-pressure", us=us)
    return Held(warmest_c, ended_c, head_bar, options.fed, atmosphere_bar(options))


def interval(options: argparse.Namespace) -> ResidualCo2:
    """InputError where the temperature is not said."""
    return held(options).residual()
