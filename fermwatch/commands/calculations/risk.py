"""`calc risk`: the chance that a bottle exceeds its limit, from all that can still make CO2 in it."""

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace

from fermwatch.commands import amounts
from fermwatch.commands.calculations import places, residual
from fermwatch.commands.calculations.calculated import Calculated, is_us, rounded
from fermwatch.desk.pressure_words import CHANCE, PAST_SIX, chance_words, held_words
from fermwatch.judgement.filling import is_keg, most_volumes, packed, reckon, reckoned_dose, volumes_by_dose
from fermwatch.model.amounts import dose as amount_of
from fermwatch.model.batch import STANDS_AT_C, KegWay, PackageChoice
from fermwatch.model.warmest import Warmest, conditioning_c, warmest_of
from fermwatch.science.carbonation import ResidualCo2, sugar_named
from fermwatch.science.packages import CAUTION, package_named
from fermwatch.science.pressure_risk import Bottle, FermentableLeft, PressureRisk, SugarDose

PURPOSE = "chance that a package exceeds its pressure limit"
TABLE_C = (20.0, 25.0, 30.0, 35.0, 40.0)
VALVE = "A keg needs a relief valve that opens below what is stamped on it: never block it."
LEFT = "0.0"
LEFT_SD = "0.7"  # a home hydrometer read twice


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--package", required=True, metavar="KIND", help="as returnable-glass; a keg is primed here")
    parser.add_argument("--volumes", metavar="2.4", help="of CO2 wanted: gives the dose of sugar")
    parser.add_argument("--sugar", default="sucrose", metavar="NAME", help="(sucrose)")
    parser.add_argument("--dose", metavar="6.2g/L", help="of sugar, in place of --volumes")
    parser.add_argument("--left", default=LEFT, metavar="POINTS", help="still to ferment, as best known (0)")
    parser.add_argument("--left-sd", default=LEFT_SD, metavar="POINTS", help="how far off that may be (0.7)")
    parser.add_argument("--storage", metavar="25C", help="the warmest it will stand (30C)")
    places.warm_arguments(parser)
    parser.add_argument("--limit-bar", metavar="BAR", help="the maker's own limit, gauge")
    parser.add_argument("--headspace", metavar="PERCENT", help="of the package, filled with air (4%%, a keg 5%%)")
    residual.arguments(parser)


@dataclass(frozen=True, slots=True)
class _Reckoned:
    """One package and what was reckoned of it. at_c: the same at each temperature of the table; alone: nothing left."""

    choice: PackageChoice
    warmest: Warmest
    held: ResidualCo2
    bottle: Bottle
    dose: SugarDose
    left: FermentableLeft
    risk: PressureRisk
    alone: PressureRisk
    at_c: Sequence[tuple[float, PressureRisk]]
    most: float | None


def answer(options: argparse.Namespace) -> Calculated:
    us, of = is_us(options), _reckoned(options)
    keg = is_keg(of.choice)
    return Calculated(
        {
            "package": of.choice.kind,
            "judged_at_c": of.warmest.temperature_c,
            "sugar": of.dose.sugar,
            "sugar_g_per_l": rounded(of.dose.g_per_l, 3),
            "without_more_fermentation_bar_gauge": rounded(of.alone.median_bar),
            **_figures(of.risk),
            "most_volumes": of.most,
            "by_temperature": [{"temperature_c": celsius, **_figures(risk)} for celsius, risk in of.at_c],
        },
        _pairs(of, us=us, keg=keg),
        ("at", "middle", "95 % below", "chance over the limit"),
        [_row(celsius, risk, us=us) for celsius, risk in of.at_c],
        cautions=[VALVE] if keg else [CAUTION, CHANCE],
    )


def _reckoned(options: argparse.Namespace) -> _Reckoned:
    choice = _choice(options, us=is_us(options))
    warmest, held = warmest_of(choice), residual.interval(options)
    share = _share(options, keg=is_keg(choice))
    bottle = packed(choice, warmest, headspace_share=share, atmosphere_bar=residual.held(options).air_bar)
    dose = _dose(options, choice, held, bottle)
    left = FermentableLeft(
        amounts.number(options.left, what="--left", low=0.0, high=150.0),
        amounts.number(options.left_sd, what="--left-sd", low=0.0, high=50.0),
    )
    return _Reckoned(
        choice,
        warmest,
        held,
        bottle,
        dose,
        left,
        risk=reckon(choice, bottle, left, held, dose),
        alone=reckon(choice, bottle, FermentableLeft(0.0, 0.0), ResidualCo2(held.middle, held.middle), dose),
        at_c=[(one_c, reckon(choice, replace(bottle, temperature_c=one_c), left, held, dose)) for one_c in TABLE_C],
        most=most_volumes(choice, bottle, left, held, conditioning_c(choice)),
    )


def _pairs(of: _Reckoned, *, us: bool, keg: bool) -> list[tuple[str, str]]:
    limit = f"limit {amounts.bar_said(of.bottle.limit_bar_gauge, us=us)}"
    lively = f"{volumes_by_dose(of.bottle, conditioning_c(of.choice), of.held, of.dose):.2g} volumes"
    lively += "" if keg else ", as in `calc pressure`"
    return [
        ("package", f"{package_named(of.choice.kind).name}, {limit}"),
        ("CO2 in the beer", held_words(of.held)),
        ("sugar", _sugar_words(of.dose, of.choice)),
        ("judged at", f"{amounts.celsius_said(of.warmest.temperature_c, us=us, places=0)}, {of.warmest.why}"),
        ("if no more ferments", f"{amounts.bar_said(of.alone.median_bar, us=us)} ({lively})"),
        ("still to ferment", f"{of.left.mean_points:g} points, give or take {of.left.sd_points:g}"),
        ("with that", pressure_words(of.risk, us=us, keg=keg)),
        ("chance over the limit", chance_words(of.risk)),
        ("so", _so(of.risk, of.choice, of.most)),
    ]


def _row(celsius: float, risk: PressureRisk, *, us: bool) -> tuple[str, str, str, str]:
    at = amounts.celsius_said(celsius, us=us, places=0)
    return at, amounts.bar_said(risk.median_bar, us=us), amounts.bar_said(risk.high_bar, us=us), chance_words(risk)


def _choice(options: argparse.Namespace, *, us: bool) -> PackageChoice:
    kind = package_named(options.package)
    maker = None
    if options.limit_bar is not None:
        maker = amounts.pressure_bar(options.limit_bar, what="--limit-bar", us=us, low_bar=0.5)
    volumes = 0.0 if options.volumes is None else amounts.volumes_co2(options.volumes, what="--volumes")
    stands_c = STANDS_AT_C if options.storage is None else places.stands(options.storage, "--storage", us=us)
    way = KegWay.PRIMED if kind.relief_valve else None
    return places.of_options(options, PackageChoice(kind.slug, volumes, stands_c, maker, way=way), us=us)


def _share(options: argparse.Namespace, *, keg: bool) -> float | None:
    if options.headspace is None:
        return None
    most = 60.0 if keg else 30.0
    return amounts.percent(options.headspace, what="--headspace", low=2.0, high=most) / 100.0


def _sugar_words(dose: SugarDose, choice: PackageChoice) -> str:
    if dose.g_per_l > 0.0:
        return f"{amount_of(dose.g_per_l)} of {sugar_named(dose.sugar).name}"
    return "none" if choice.volumes == 0.0 else "none is needed: the beer already holds more CO2 than that"


def pressure_words(risk: PressureRisk, *, us: bool = False, keg: bool = False) -> str:
    if risk.beyond_any:
        return "more than 6 volumes: beyond any package, and beyond what the formulas are good for"
    middle, high = amounts.bar_said(risk.median_bar, us=us), amounts.bar_said(risk.high_bar, us=us)
    if risk.extrapolated:
        return f"{middle} in the middle; the upper end {PAST_SIX}"
    stay = "95 % sure to stay" if keg else "95 % of bottles stay"
    return f"{middle} in the middle; {stay} below {high}"


def _so(risk: PressureRisk, choice: PackageChoice, most: float | None) -> str:
    fits = "no carbonation fits" if most is None else f"at most {most:.1f} volumes fit"
    if risk.acceptable:
        return f"within the limit: {fits}"
    return f"too much for this {'keg' if is_keg(choice) else 'bottle'}, do not fill it so: {fits}"


def _dose(options: argparse.Namespace, choice: PackageChoice, held: ResidualCo2, bottle: Bottle) -> SugarDose:
    sugar = sugar_named(options.sugar).slug
    if options.dose is not None:
        return SugarDose(amounts.grams_per_litre(options.dose, what="--dose", high_g_per_l=50.0), sugar)
    return reckoned_dose(choice, held, bottle, conditioning_c(choice), sugar)


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
