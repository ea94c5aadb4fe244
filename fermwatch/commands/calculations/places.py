"""Where a package conditions, stands and may get by accident: options that calculations of pressure share."""

import argparse
from dataclasses import replace

from fermwatch.commands import amounts
from fermwatch.model.batch import PackageChoice
from fermwatch.science.solubility import TEMPERATURE_LOW_C


def warm_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--conditioning", metavar="20C", help="where its sugar makes CO2 (20C)")
    parser.add_argument("--accident", metavar="25C", help="how warm it may once get: in a car, a heatwave (25C)")


def celsius(typed: str, what: str, *, us: bool) -> float:
    return amounts.temperature_c(typed, what=what, us=us, low_c=TEMPERATURE_LOW_C)


def stands(typed: str, what: str, *, us: bool) -> float:
    """Where it stands, or may once get."""
    return amounts.place_c(typed, what=what, us=us, low_c=TEMPERATURE_LOW_C)


def of_options(options: argparse.Namespace, choice: PackageChoice, *, us: bool) -> PackageChoice:
    """The package with what is said of where it conditions and may get."""
    if options.conditioning is not None:
        choice = replace(choice, conditioning_c=celsius(options.conditioning, "--conditioning", us=us))
    if options.accident is not None:
        choice = replace(choice, accident_c=stands(options.accident, "--accident", us=us))
    return choice
