"""`calc pressure`: what a carbonation presses a bottle with, by temperature."""

import argparse

from fermwatch.commands import amounts
from fermwatch.commands.calculations import places
from fermwatch.commands.calculations.calculated import Calculated, is_us, rounded
from fermwatch.model.amounts import pressure
from fermwatch.model.batch import PackageChoice
from fermwatch.model.warmest import warmest_of
from fermwatch.science.packages import CAUTION, PACKAGES
from fermwatch.science.pressure_risk import Bottle
from fermwatch.science.solubility import pressure_bar_gauge

PURPOSE = "pressure in a bottle, by temperature"
TABLE_C = (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0)
SAFE_SIDE = (
    "The bottle counts the air shut into its headspace, and beer that dissolves 5 % less than usual: the safe side."
)
NOTHING_LEFT = (
    "Nothing more ferments here and every bottle is alike; `calc risk` adds what may still ferment and uneven sugar, "
    f"which is {pressure(0.3)} and more."
)
LIMITS = "Limits by common practice; the maker's figure goes over them."
ANY_LIMIT_BAR = 5.0  # a bottle's own pressure does not depend on its limit
SHORT_NAMES = {"one-way-glass": "one-way", "returnable-glass": "returnable", "heavy-glass": "heavy"}


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("volumes", metavar="VOLUMES", help="of CO2 in the bottle, as 2.4")
    parser.add_argument("--storage", action="append", metavar="25C", help="where it stands, once or more often")
    places.warm_arguments(parser)
    parser.add_argument("--headspace", default="4%", metavar="PERCENT", help="of the bottle, filled with air (4%%)")


def answer(options: argparse.Namespace) -> Calculated:
    us = is_us(options)
    volumes = amounts.volumes_co2(options.volumes, what="volumes")
    share = amounts.percent(options.headspace, what="--headspace", low=2.0, high=30.0) / 100.0
    stands = [places.stands(one, "--storage", us=us) for one in options.storage or ()]
    warmest = warmest_of(places.of_options(options, PackageChoice("", volumes, max(stands, default=0.0)), us=us))
    temperatures = (*stands, warmest.temperature_c) if stands else TABLE_C
    rows = [_figures(volumes, celsius, share) for celsius in dict.fromkeys(temperatures)]
    body = [
        (
            amounts.celsius_said(row["temperature_c"], us=us, places=0),
            amounts.bar_said(row["without_air_bar_gauge"], us=us),
            amounts.bar_said(row["bottle_bar_gauge"], us=us),
            _fits(row["bottle_bar_gauge"]),
        )
        for row in rows
    ]
    remarks = [f"{volumes:g} volumes, gauge. {SAFE_SIDE} {NOTHING_LEFT}", LIMITS]
    if stands:
        remarks.insert(0, f"Judged at {amounts.celsius_said(warmest.temperature_c, us=us, places=0)}, {warmest.why}.")
    return Calculated(
        {"volumes": volumes, "judged_at_c": rounded(warmest.temperature_c, 2), "by_temperature": rows},
        header=("at", "in the beer", "in a bottle", "more than it may hold"),
        body=body,
        remarks=remarks,
        cautions=[CAUTION],
    )


def _figures(volumes: float, celsius: float, headspace_share: float) -> dict[str, float]:
    bottle = Bottle(ANY_LIMIT_BAR, celsius, headspace_share)
    return {
        "temperature_c": rounded(celsius, 2),
        "without_air_bar_gauge": rounded(pressure_bar_gauge(volumes, celsius)),
        "bottle_bar_gauge": rounded(bottle.pressure_bar_gauge(volumes)),
    }


def _fits(bar: float) -> str:
    over = [short for slug, short in SHORT_NAMES.items() if bar > (PACKAGES[slug].limit_bar_gauge or 0.0)]
    return ", ".join(over) or "-"
