"""What may become of a package filled now: what can still ferment, given the stillness shown, and its pressure."""

import math
from dataclasses import dataclass, replace
from statistics import NormalDist

from fermwatch.errors import FermwatchError, OutOfDomain
from fermwatch.judgement import limit
from fermwatch.judgement.facts import Facts
from fermwatch.judgement.filling import (
    BOTTLE_L,
    asleep,
    awake,
    fits,
    is_keg,
    judged_at,
    most_volumes,
    named,
    of_bottles,
    packed,
    percent,
    pressure_to_set,
    reckon,
    reckoned_dose,
    too_full,
    waiting_helps,
)
from fermwatch.judgement.forced import ForcedFerment
from fermwatch.judgement.leftover import little_left
from fermwatch.judgement.settings import BINS_PER_DAY
from fermwatch.judgement.settling import settled_decline
from fermwatch.judgement.stillness import Decline
from fermwatch.judgement.view import View
from fermwatch.model import amounts
from fermwatch.model.batch import PackageChoice
from fermwatch.science.carbonation import ResidualCo2, residual_interval
from fermwatch.science.pressure_risk import FermentableLeft
from fermwatch.science.pressure_risk import PressureRisk as Pressure
from fermwatch.science.solubility import TEMPERATURE_HIGH_C, TEMPERATURE_LOW_C

TAIL_DAYS = 5.0  # time constant of the last points at 20 °C: what falls d points a day has 5 d left
TAIL_LONGEST_DAYS = 10.0
LEVEL_SD = 0.7
BEFORE_SETTLED_H = 48.0  # that it is finished is shown a day or two after it is
LAST_WEEK_BINS = 7 * BINS_PER_DAY
UNLIKELY, STANDARD = 0.01, NormalDist()
RISKY_CHANCE = 0.1  # of a decline, above which what is left cannot be reckoned from it
NOTHING_LEFT = FermentableLeft(0.0, 0.0)
AT_BEST = FermentableLeft(0.0, 0.4)  # as little as can be shown
SUGAR_SPREAD = 0.1  # of the sugar that was said to be added
LET_IT_FERMENT = "Let it ferment out, and read the hydrometer: what has fallen since is known to be gone."
ANOTHER_PACKAGE = "Choose a package that is made to hold pressure."


@dataclass(frozen=True, slots=True)
class PackageRisk:
    """overfull: no hydrometer reading would make it acceptable, only another package, fewer volumes, a cooler store.

    fits: what would, where it is the carbonation: `at most 2.3 volumes in returnable-glass`. against: what else it is.
    """

    chance_over_limit: float
    acceptable: bool
    statement: str
    remedy: str = ""
    overfull: bool = False
    fits: str = ""
    against: str = ""


def left(
    decline: Decline, temperature_c: float, gravity: float, gravity_sd: float, forced: ForcedFerment | None
) -> FermentableLeft:
    """What can still ferment, points: by a forced ferment of its yeast's range, else by the decline not ruled out."""
    if forced is not None and not forced.short:
        sd = min((gravity_sd**2 + LEVEL_SD**2) ** 0.5, 50.0)
        return FermentableLeft(max(gravity - forced.gravity, -4.0 * sd), sd)
    days = min(TAIL_DAYS * 2.0 ** ((20.0 - temperature_c) / 10.0), TAIL_LONGEST_DAYS)
    sd = min(max(decline.sd * days, 0.05), 50.0)
    return FermentableLeft(max(decline.points_per_day * days, -4.0 * sd), sd)


def risk_of(view: View, shown: FermentableLeft | None = None, settled_h: float | None = None) -> PackageRisk | None:
    """The risk in the package chosen; None without one, or while gravity falls too fast to reckon it.

    shown: what was left when it was declared safe, for as long as that stands: a cold crash unsays none of it.
    settled_h: from when it has been finished, where that is known.
    """
    choice = view.facts.package
    if choice is None:
        return None
    try:
        if why := asleep(choice, view.facts.conditioning_c, view.facts.temperature_low_c):
            statement = f"{named(choice)}: {why}"
            return PackageRisk(1.0, False, statement, awake(choice), overfull=True, against=why)
        return _risk_of(view, choice, shown, settled_h)
    except OutOfDomain as error:
        remedy = "Say again what it goes into, how lively, and where it will stand."
        why = str(error).rstrip(".")
        return PackageRisk(1.0, False, why, remedy, overfull=True, against=why)
    except FermwatchError as error:
        why = str(error).rstrip(".")
        return PackageRisk(1.0, False, why, ANOTHER_PACKAGE, overfull=True, against=why)


def _risk_of(
    view: View, choice: PackageChoice, shown: FermentableLeft | None, settled_h: float | None
) -> PackageRisk | None:
    air_bar = view.facts.air_bar
    residual, bottle = _residual(view, settled_h), packed(choice, view.facts.warmest, atmosphere_bar=air_bar)
    conditions_c = view.facts.conditioning_c
    dose = reckoned_dose(choice, residual, bottle, conditions_c)

    reckonable = _is_reckonable(view)

    def risk(what_is_left: FermentableLeft, *, overfull: bool) -> PackageRisk:
        pressure = reckon(choice, bottle, what_is_left, residual, dose)
        statement = _statement(view, choice, pressure)
        if pressure.acceptable:
            return PackageRisk(pressure.chance_over_limit, True, statement)
        # What is told to fit must be taken when it is asked about next.
        told_by = left_now(view) if reckonable and shown is None else what_is_left
        most = most_volumes(choice, bottle, told_by, residual, conditions_c)
        waits = most is None and waiting_helps(choice, bottle, told_by, residual, conditions_c)
        remedy = too_full(choice, view.facts.warmest, most, waits=waits)
        if overfull:
            statement = f"this package would be overfilled: {statement}"
        return PackageRisk(pressure.chance_over_limit, False, statement, remedy, overfull, fits(choice, most))

    at_best = risk(_least_left(view) if shown is None else shown, overfull=True)
    if not at_best.acceptable or shown is not None:
        return at_best
    if (pending := _added_left(view)) > 0.0:
        with_sugar = risk(_with_sugar(NOTHING_LEFT, pending), overfull=False)
        if not with_sugar.acceptable:
            said = f"{amounts.points(pending, 1)} of what was added may still ferment: {with_sugar.statement}"
            return replace(with_sugar, statement=said, remedy=LET_IT_FERMENT)
    return risk(left_now(view), overfull=False) if reckonable else None


def _is_reckonable(view: View) -> bool:
    """Whether what is left can be told from what was measured: it is little, or the beer hardly falls any more."""
    if limit.settled(view) is not None or little_left(view):
        return True
    return view.decline.chance_of(view.still_limit) < RISKY_CHANCE


def _least_left(view: View) -> FermentableLeft:
    """What is left if the beer is as still as it is shown to be, or would be by one reading that agrees."""
    settled = settled_decline(view.estimate, view, view.hour)
    by_decline = NOTHING_LEFT if settled is None else _left_by(settled, view)
    return _lesser(by_decline, _with_sugar(AT_BEST, _added_left(view)))


def all_left(facts: Facts) -> FermentableLeft:
    """All that its yeast may ferment, of wort that nothing was measured of."""
    half = (facts.attenuation_high - facts.attenuation_low) / 2.0
    sd = min(math.hypot(half * facts.original, facts.original_sd), 50.0)
    return FermentableLeft(min(facts.attenuation_middle * facts.original, 150.0), sd)


def left_now(view: View) -> FermentableLeft:
    """What can still ferment, by the decline as it is known now."""
    return all_left(view.facts) if view.measured is None else _left_by(view.decline, view)


def _left_by(decline: Decline, view: View) -> FermentableLeft:
    gravity, sd = view.shown_gravity, view.gravity_sd
    if _ended_short(view):
        return _with_sugar(
            all_left(view.facts) if (short := _left_by_yeast(view)) is None else short, _added_left(view)
        )
    if (pair := limit.settled(view)) is not None:
        gravity, sd = pair.gravity, pair.sd
    what_is_left = left(decline, view.day_temperature_c, gravity, sd, view.facts.forced)
    if (by_yeast := _left_by_yeast(view)) is not None:
        what_is_left = _lesser(what_is_left, by_yeast)
    if little_left(view):
        what_is_left = _lesser(what_is_left, view.remaining.left)
    return _with_sugar(what_is_left, _added_left(view))


def _ended_short(view: View) -> bool:
    """Whether it stands above where its yeast may end: how still it is then tells nothing of what would wake again."""
    return view.attenuation < view.facts.attenuation_low and not limit.holds(view)


def _left_by_yeast(view: View) -> FermentableLeft | None:
    """What lies between where it is and where its yeast may end, however little is known of how fast it falls.

    None where no range bounds it: of yeast that ferments anything, after hops whose enzymes free more, of a blend, and
    of a beer that went beyond its range already.
    """
    facts = view.facts
    if view.above_range(0.5):
        return None
    if facts.diastatic or facts.wild or facts.maltose_negative or facts.blended or facts.last_hops_h is not None:
        return None
    half = (facts.attenuation_high - facts.attenuation_low) / 2.0
    end, end_sd = (1.0 - facts.attenuation_middle), half * facts.original
    sd = min(math.hypot(end_sd, end * facts.original_sd, view.said_sd, LEVEL_SD), 50.0)
    return FermentableLeft(max(view.shown_gravity - end * facts.original, -4.0 * sd), sd)


def _lesser(one: FermentableLeft, other: FermentableLeft) -> FermentableLeft:
    """Of two bounds of the same, the one that leaves less in its unlikely end: both hold."""
    return min(one, other, key=_one_in_a_hundred)


def _one_in_a_hundred(left: FermentableLeft) -> float:
    """Points that are exceeded with this chance, of a normal cut off at zero."""
    if left.sd_points <= 0.0:
        return left.mean_points
    kept = STANDARD.cdf(left.mean_points / left.sd_points)
    return left.mean_points + left.sd_points * STANDARD.inv_cdf(1.0 - UNLIKELY * kept)


def _added_left(view: View) -> float:
    """What of the sugar that went in may still ferment; a forced ferment drawn after it knows better."""
    forced = view.facts.forced
    return view.added_left if forced is None or forced.short else 0.0


def _with_sugar(what_is_left: FermentableLeft, sugar: float) -> FermentableLeft:
    sd = min(math.hypot(what_is_left.sd_points, SUGAR_SPREAD * sugar), 50.0)
    return FermentableLeft(min(max(what_is_left.mean_points, -4.0 * sd) + sugar, 150.0), sd)


def _residual(view: View, settled_h: float | None) -> ResidualCo2:
    """CO2 in the beer: no more than when activity ended, no less than at the warmest since.

    A cold crash of weeks brings no CO2 back. Where the end is not known, the last week stands for the time since.
    """
    bins = view.bins
    since = bins[-LAST_WEEK_BINS:]
    if settled_h is not None:
        since = [b for b in bins if b.end_h > settled_h - BEFORE_SETTLED_H] or since
    warm = [min(max(b.temperature_c, TEMPERATURE_LOW_C), TEMPERATURE_HIGH_C) for b in since]
    return residual_interval(max(warm), warm[0], atmosphere_bar=view.facts.air_bar)


def _statement(view: View, choice: PackageChoice, pressure: Pressure) -> str:
    most = amounts.pressure(pressure.limit_bar)
    if choice.forced:
        return (
            f"{named(choice)}: {amounts.pressure(pressure_to_set(choice, view.facts.air_bar), 2)} at "
            f"{amounts.temperature(choice.storage_c, None)}; with what may still ferment it stays, 95 % sure, below "
            f"{amounts.pressure(pressure.high_bar)}, limit {most}"
        )
    stays = "95 % sure to stay" if is_keg(choice) else "95 % of bottles stay"
    exceeds = "it exceeds" if is_keg(choice) else "a bottle exceeds"
    bottles = round(view.facts.volume_l / BOTTLE_L)
    counted = "" if is_keg(choice) else f": {of_bottles(pressure.chance_over_limit, bottles)}"
    if pressure.chance_over_limit > pressure.accepted_chance:
        counted += f", and at most {pressure.accepted_chance:.0%} will do"
    return (
        f"{named(choice)}, at {judged_at(view.facts.warmest)}: {stays} below {amounts.pressure(pressure.high_bar)}, "
        f"limit {most}; chance that {exceeds} its limit {percent(pressure.chance_over_limit)}{counted}"
    )
