"""`calc risk`: the chance that a bottle exceeds its limit, from all that can still make CO2 in it."""

import argparse

from fermwatch.commands import amounts
from fermwatch.commands.calculations import residual
from fermwatch.commands.calculations.answer import Answer, is_us, rounded
from fermwatch.science.carbonation import sugar_for_rise_g_per_l, sugar_named
from fermwatch.science.packages import CAUTION, package_named, pressure_limit_bar_gauge
from fermwatch.science.pressure_risk import Bottle, FermentableLeft, PressureRisk, SugarDose, pressure_risk

PURPOSE = "chance that a bottle exceeds its pressure limit"
TABLE_C = (20.0, 25.0, 30.0, 35.0, 40.0)
CHANCE = "The chance is that a bottle exceeds its limit, not that it bursts: a scratched one may burst below it."
LEFT = "0.0"
LEFT_SD = "0.7"  # a home hydrometer read twice


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--package", required=True, metavar="KIND", help="as returnable-glass")
    parser.add_argument("--volumes", metavar="2.4", help="of CO2 wanted: gives the dose of sugar")
    parser.add_argument("--sugar", default="sucrose", metavar="NAME", help="(sucrose)")
    parser.add_argument("--dose", metavar="6.2g/L", help="of sugar, in place of --volumes")
    parser.add_argument("--left", default=LEFT, metavar="POINTS", help="still to ferment, as best known (0)")
    parser.add_argument("--left-sd", default=LEFT_SD, metavar="POINTS", help="how far off that may be (0.7)")
    parser.add_argument("--storage", metavar="25C", help="the warmest it will stand (30C)")
    parser.add_argument("--limit-bar", metavar="BAR", help="the maker's own limit, gauge")
    parser.add_argument("--headspace", default="4%", metavar="PERCENT", help="of the bottle, filled with air (4%%)")
    residual.arguments(parser)


def answer(options: argparse.Namespace) -> Answer:
    us = is_us(options)
    kind = package_named(options.package)
    maker = None
    if options.limit_bar is not None:
        maker = amounts.pressure_bar(options.limit_bar, what="--limit-bar", us=us, low_bar=0.5)
    limit_bar = pressure_limit_bar_gauge(kind, maker)
    held = residual.interval(options)
    dose = _dose(options, held.middle)
    left = FermentableLeft(
        amounts.number(options.left, what="--left", low=0.0, high=150.0),
        amounts.number(options.left_sd, what="--left-sd", low=0.0, high=50.0),
    )
    share = amounts.percent(options.headspace, what="--headspace", low=2.0, high=30.0) / 100.0
    storage_c = 30.0 if options.storage is None else amounts.temperature_c(options.storage, what="--storage", us=us)

    def at(celsius: float) -> PressureRisk:
        bottle = Bottle(limit_bar, celsius, share, atmosphere_bar=residual.atmosphere_bar(options))
        return pressure_risk(left, held, dose, bottle)

    risk = at(storage_c)
    rows = [(celsius, at(celsius)) for celsius in TABLE_C]
    return Answer(
        {
            "package": kind.slug,
            "storage_c": storage_c,
            "sugar": dose.sugar,
            "sugar_g_per_l": rounded(dose.g_per_l, 3),
            **_figures(risk),
            "by_storage_temperature": [{"storage_c": celsius, **_figures(one)} for celsius, one in rows],
        },
        [
            ("package", f"{kind.name}, limit {amounts.bar_said(limit_bar, us=us)}"),
            ("CO2 in the beer", residual.words(held)),
            ("sugar", f"{dose.g_per_l:.2f} g/L of {sugar_named(dose.sugar).name}"),
            ("still to ferment", f"{left.mean_points:g} points, give or take {left.sd_points:g}"),
            (f"at {amounts.celsius_said(storage_c, us=us, places=0)}", pressure_words(risk, us=us)),
            ("chance over the limit", chance_words(risk)),
            ("so", _so(risk)),
        ],
        ("stored at", "middle", "95 % below", "chance over the limit"),
        [
            (
                amounts.celsius_said(celsius, us=us, places=0),
                amounts.bar_said(one.median_bar, us=us),
                amounts.bar_said(one.high_bar, us=us),
                chance_words(one),
            )
            for celsius, one in rows
        ],
        cautions=[CAUTION, CHANCE],
    )


def chance_words(risk: PressureRisk) -> str:
    chance = risk.chance_over_limit
    if chance < 0.0001:
        return "below 0.01 %"
    if chance > 0.99:
        return "above 99 %"
    return f"{chance:.0%}".replace("%", " %") if chance > 0.1 else f"{100.0 * chance:.2g} %"


def pressure_words(risk: PressureRisk, *, us: bool = False) -> str:
    if risk.extrapolated:
        return "more than 6 volumes: beyond any bottle, and beyond what the formulas are good for"
    middle, high = amounts.bar_said(risk.median_bar, us=us), amounts.bar_said(risk.high_bar, us=us)
    return f"{middle} in the middle; 95 % of bottles stay below {high}"


def _so(risk: PressureRisk) -> str:
    if risk.acceptable:
        return f"within the limit, which {risk.volumes_at_limit:.1f} volumes would reach"
    return f"too much for this package, which {risk.volumes_at_limit:.1f} volumes bring to its limit: do not bottle so"


def _dose(options: argparse.Namespace, residual_volumes: float) -> SugarDose:
    sugar = sugar_named(options.sugar).slug
    if options.dose is not None:
        return SugarDose(amounts.grams_per_litre(options.dose, what="--dose", high_g_per_l=50.0), sugar)
    if options.volumes is None:
        return SugarDose(0.0, sugar)
    target = amounts.volumes_co2(options.volumes, what="--volumes")
    return SugarDose(sugar_for_rise_g_per_l(target, residual_volumes, sugar), sugar)


def _figures(risk: PressureRisk) -> dict[str, float | bool]:
    return {
        "low_bar_gauge": rounded(risk.low_bar),
        "median_bar_gauge": rounded(risk.median_bar),
        "high_bar_gauge": rounded(risk.high_bar),
        "limit_bar_gauge": rounded(risk.limit_bar),
        "chance_over_limit": rounded(risk.chance_over_limit, 6),
        "volumes_at_limit": rounded(risk.volumes_at_limit),
        "within_limit": risk.acceptable,
    }
