"""What may become of a bottle filled now: what can still ferment, given the stillness shown, and its pressure."""

from collections.abc import Sequence
from dataclasses import dataclass

from fermwatch.errors import FermwatchError, OutOfDomain
from fermwatch.judgement import limit
from fermwatch.judgement.facts import ForcedFerment
from fermwatch.judgement.preprocess import Bin
from fermwatch.judgement.settling import settled_decline
from fermwatch.judgement.stillness import Decline
from fermwatch.judgement.view import View
from fermwatch.model.batch import PackageChoice
from fermwatch.science.carbonation import ResidualCo2, residual_interval, sugar_for_rise_g_per_l
from fermwatch.science.packages import PACKAGES, package_named, pressure_limit_bar_gauge
from fermwatch.science.pressure_risk import Bottle, FermentableLeft, SugarDose, pressure_risk
from fermwatch.science.pressure_risk import PressureRisk as Pressure

TAIL_DAYS = 5.0  # time constant of the last points at 20 °C: what falls d points a day has 5 d left
TAIL_LONGEST_DAYS = 10.0
LEVEL_SD = 0.7
RISKY_CHANCE = 0.1  # of a decline, above which what is left cannot be reckoned from it
NOTHING_LEFT = FermentableLeft(0.0, 0.0)
FEWER_VOLUMES = "Fewer volumes, heavier glass or another strong package, or a cooler store."
ANOTHER_PACKAGE = "Choose a package that is made to hold pressure."


@dataclass(frozen=True, slots=True)
class PackageRisk:
    """overfull: no hydrometer reading would make it acceptable, only another package, fewer volumes, a cooler store."""

    chance_over_limit: float
    acceptable: bool
    statement: str
    remedy: str = ""
    overfull: bool = False


def takes_creep(choice: PackageChoice | None) -> bool:
    """Whether it may hold beer that still creeps: heavy glass, or no glass at all."""
    if choice is None:
        return False
    kind = PACKAGES.get(choice.kind)
    return kind is not None and not kind.refused and (kind.heavy or not kind.glass)


def left(
    decline: Decline, temperature_c: float, gravity: float, gravity_sd: float, forced: ForcedFerment | None
) -> FermentableLeft:
    """What can still ferment, points: by a forced ferment where there is one, else by the decline not ruled out."""
    if forced is not None:
        sd = min((gravity_sd**2 + LEVEL_SD**2) ** 0.5, 50.0)
        return FermentableLeft(max(gravity - forced.gravity, -4.0 * sd), sd)
    days = min(TAIL_DAYS * 2.0 ** ((20.0 - temperature_c) / 10.0), TAIL_LONGEST_DAYS)
    sd = min(max(decline.sd * days, 0.05), 50.0)
    return FermentableLeft(max(decline.points_per_day * days, -4.0 * sd), sd)


def risk_of(view: View) -> PackageRisk | None:
    """The risk in the package chosen; None without one, or while gravity falls too fast to reckon it."""
    choice = view.facts.package
    if choice is None:
        return None
    try:
        at_best = _pressure(choice, _least_left(view), view.bins)
        if not at_best.acceptable:
            statement = f"this package would be overfilled: {_statement(choice, at_best)}"
            return PackageRisk(at_best.chance_over_limit, False, statement, FEWER_VOLUMES, overfull=True)
        if limit.settled(view) is None and view.decline.chance_of(view.still_limit) >= RISKY_CHANCE:
            return None
        pressure = _pressure(choice, _left_by(view.decline, view), view.bins)
    except OutOfDomain as error:
        return PackageRisk(
            1.0,
            False,
            str(error).rstrip("."),
            "Say again what it goes into, how lively, and where it will stand.",
            True,
        )
    except FermwatchError as error:
        return PackageRisk(1.0, False, str(error).rstrip("."), ANOTHER_PACKAGE, True)
    return PackageRisk(pressure.chance_over_limit, pressure.acceptable, _statement(choice, pressure), FEWER_VOLUMES)


def _least_left(view: View) -> FermentableLeft:
    """What is left if the beer is as still as it is shown to be, or would be by one reading that agrees."""
    if view.decline.chance_of(view.still_limit) <= view.settings.still_risk:
        return _left_by(view.decline, view)
    settled = settled_decline(view.estimate, view, view.hour)
    return NOTHING_LEFT if settled is None else _left_by(settled, view)


def _left_by(decline: Decline, view: View) -> FermentableLeft:
    return left(decline, view.day_temperature_c, view.shown_gravity, view.gravity_sd, view.facts.forced)


def _pressure(choice: PackageChoice, what_is_left: FermentableLeft, bins: Sequence[Bin]) -> Pressure:
    limit = pressure_limit_bar_gauge(package_named(choice.kind), choice.limit_bar)
    residual = _residual(bins)
    rise = choice.volumes - residual.middle
    dose = SugarDose(sugar_for_rise_g_per_l(choice.volumes, residual.middle) if rise > 0.0 else 0.0)
    return pressure_risk(what_is_left, residual, dose, Bottle(limit, choice.storage_c))


def _residual(bins: Sequence[Bin]) -> ResidualCo2:
    """CO2 in the beer: no more than when activity ended, no less than at the warmest since (both of the last week)."""
    warm = [min(max(b.temperature_c, 0.0), 40.0) for b in bins[-56:]]
    return residual_interval(max(warm), min(warm[0], max(warm)))


def _statement(choice: PackageChoice, pressure: Pressure) -> str:
    return (
        f"{choice.kind}, {choice.volumes:.1f} volumes, stored at {choice.storage_c:.0f} °C: 95 % of bottles stay below "
        f"{pressure.high_bar:.1f} bar, limit {pressure.limit_bar:.1f}; "
        f"chance that a bottle exceeds its limit {pressure.chance_over_limit:.1%}"
    )
