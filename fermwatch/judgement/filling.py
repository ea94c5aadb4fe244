"""A package as it is filled: what it is judged at, the sugar or the pressure that it takes, and how high that climbs.

Pure, and light enough for every text command: no estimate of the beer is needed here.
"""

from bisect import bisect_left
from dataclasses import replace

from fermwatch.model import amounts
from fermwatch.model.batch import PackageChoice
from fermwatch.model.warmest import STANDS, Warmest
from fermwatch.science.carbonation import ResidualCo2, sugar_for_rise_g_per_l
from fermwatch.science.conditioning import SLUGGISH_BELOW_RANGE_C
from fermwatch.science.packages import PACKAGES, package_named, pressure_limit_bar_gauge
from fermwatch.science.pressure_risk import (
    HEADSPACE_SHARE,
    Bottle,
    FermentableLeft,
    PressureRisk,
    SugarDose,
    carbonation_distribution,
    pressure_risk,
)
from fermwatch.science.solubility import (
    ATMOSPHERE_BAR,
    BEER_PER_WATER,
    VOLUMES_HIGH,
    VOLUMES_PER_POINT,
    headspace_volumes,
    pressure_bar_gauge,
)

KEG_HEADSPACE_SHARE = 0.05  # of a keg filled to its neck
BOTTLE_L = 0.5
ONCE_FINISHED = FermentableLeft(0.0, 0.5)  # what a finished beer is usually shown to have left, at best
HARDLY_ANY = 1.0  # points: said to be less than one, with which a beer is told to be finished
ASLEEP_BELOW_C = 5.0  # in a refrigerator no yeast makes CO2 to speak of (common practice)


def takes_creep(choice: PackageChoice | None) -> bool:
    """Whether it may hold beer that still creeps: heavy glass, or no glass at all."""
    if choice is None:
        return False
    kind = PACKAGES.get(choice.kind)
    return kind is not None and not kind.refused and (kind.heavy or not kind.glass)


def is_keg(choice: PackageChoice | None) -> bool:
    """Whether it has a relief valve, and takes its CO2 in one of a keg's two ways."""
    kind = None if choice is None else PACKAGES.get(choice.kind)
    return kind is not None and kind.relief_valve


def packed(
    choice: PackageChoice,
    warmest: Warmest,
    *,
    headspace_share: float | None = None,
    atmosphere_bar: float = ATMOSPHERE_BAR,
) -> Bottle:
    """The package, at what it is judged at. Nobody purges bottles; a keg on a cylinder is purged.

    Raises InputError for a kind that no beer goes into.
    """
    kind = package_named(choice.kind)
    usual = KEG_HEADSPACE_SHARE if kind.relief_valve else HEADSPACE_SHARE
    return Bottle(
        pressure_limit_bar_gauge(kind, choice.limit_bar),
        warmest.temperature_c,
        usual if headspace_share is None else headspace_share,
        atmosphere_bar=atmosphere_bar,
        air=not choice.forced,
        gas_counted=kind.relief_valve and not choice.forced,
        accepted_chance=kind.accepted_chance,
    )


def reckoned_dose(
    choice: PackageChoice, residual: ResidualCo2, bottle: Bottle, conditioning_c: float, sugar: str = "sucrose"
) -> SugarDose:
    """The sugar for the carbonation wanted: none where a cylinder gives it, or where the beer holds it already.

    A keg's counts the CO2 that goes into its headspace, which may be a large one.
    """
    if choice.forced or choice.volumes <= residual.middle:
        return SugarDose(0.0, sugar)
    wanted = choice.volumes
    if bottle.gas_counted:
        wanted += headspace_volumes(choice.volumes, conditioning_c, bottle.headspace_share)
    rise = min(wanted - residual.middle, VOLUMES_HIGH)
    return SugarDose(sugar_for_rise_g_per_l(rise, 0.0, sugar), sugar)


def volumes_by_dose(bottle: Bottle, conditioning_c: float, residual: ResidualCo2, dose: SugarDose) -> float:
    """The carbonation that a dose gives, where it conditions."""
    return replace(bottle, temperature_c=conditioning_c).in_beer(residual.middle + dose.volumes, BEER_PER_WATER)


def reckon(
    choice: PackageChoice,
    bottle: Bottle,
    what_is_left: FermentableLeft,
    residual: ResidualCo2,
    dose: SugarDose,
    volumes_per_point: float = VOLUMES_PER_POINT,
) -> PressureRisk:
    """How high the pressure may climb. Beer under a cylinder takes up the carbonation wanted, whatever it held."""
    if choice.forced:
        residual = ResidualCo2(choice.volumes, choice.volumes)
    return pressure_risk(what_is_left, residual, dose, bottle, volumes_per_point)


def most_volumes(
    choice: PackageChoice,
    bottle: Bottle,
    what_is_left: FermentableLeft,
    residual: ResidualCo2,
    conditioning_c: float,
    volumes_per_point: float = VOLUMES_PER_POINT,
) -> float | None:
    """The liveliest that the package may be, all that may still ferment counted, to 0.1 below; None where none fits."""
    at_limit = bottle.with_gas(bottle.volumes_at_limit())

    def fits(volumes: float) -> bool:
        wanted = replace(choice, volumes=volumes)
        base = volumes if choice.forced else residual.high
        dose = reckoned_dose(wanted, residual, bottle, conditioning_c)
        held = carbonation_distribution(what_is_left, base, dose, volumes_per_point)
        return held.chance_above(at_limit) < bottle.accepted_chance

    tenths = range(1, round(10 * VOLUMES_HIGH) + 1)
    most = bisect_left(tenths, True, key=lambda tenth: not fits(tenth / 10.0))
    return most / 10.0 if most else None


def fits(choice: PackageChoice, most: float | None) -> str:
    """What its package may hold, in few words; empty where no carbonation fits."""
    return "" if most is None else f"at most {min(most, choice.volumes):.1f} volumes in a {_kind(choice)}"


def waiting_helps(
    choice: PackageChoice, bottle: Bottle, what_is_left: FermentableLeft, residual: ResidualCo2, conditioning_c: float
) -> bool:
    """Whether some carbonation would fit once the beer has finished: else it is the package's limit that is too low."""
    if what_is_left.expected_points < HARDLY_ANY:
        return False
    return most_volumes(choice, bottle, ONCE_FINISHED, residual, conditioning_c) is not None


def too_full(choice: PackageChoice, warmest: Warmest, most: float | None, *, waits: bool) -> str:
    """What to do about a package that would be overfilled. most: the volumes that it may have.

    waits: whether it would fit once the beer has finished.
    """
    if most is None and waits:
        fewer = "No carbonation fits, for too much may still ferment: let it finish"
        if not is_keg(choice):
            return f"{fewer}."  # stronger glass would burst later, and harder
    elif most is None:
        limit_bar = pressure_limit_bar_gauge(package_named(choice.kind), choice.limit_bar)
        fewer = f"No carbonation fits its limit of {amounts.pressure(limit_bar)}"
    else:
        fewer = f"At most {most:.1f} volumes" if most < choice.volumes else "Less sugar"
    if is_keg(choice):
        return f"{fewer}; or say what is stamped on your keg, with --limit-bar: most hold more."
    cooler = ", or a cooler store" if warmest.why == STANDS else ""
    return f"{fewer}; or heavier glass or another strong package{cooler}."


def percent(chance: float) -> str:
    """`72.0%`, `1.3%`, `0.03%`: never nothing where there is something."""
    return f"{chance:.1%}" if chance >= 0.001 or chance < 0.00001 else f"{100.0 * chance:.1g}%"


def of_bottles(chance: float, bottles: int) -> str:
    """A chance as a person counts: `about 2 of 40 bottles`, `about 1 bottle in 1600`."""
    bottles = max(bottles, 1)
    if chance * bottles >= 0.95:
        return f"about {min(round(chance * bottles), bottles)} of {bottles} bottles"
    if chance < 1e-5:
        return "less than 1 bottle in 100000"
    return f"about 1 bottle in {float(f'{1.0 / chance:.2g}'):.0f}"


def pressure_to_set(choice: PackageChoice, atmosphere_bar: float = ATMOSPHERE_BAR) -> float:
    """Bar gauge that gives a forced keg its carbonation where it stands; 0 where the beer holds it without."""
    return max(pressure_bar_gauge(choice.volumes, choice.storage_c, atmosphere_bar=atmosphere_bar), 0.0)


def asleep(choice: PackageChoice, conditioning_c: float, yeast_low_c: float) -> str:
    """Why its sugar would make no CO2 for now: it is put too cold. Empty where it is warm enough, or forced.

    A keg primed and put cold, with nothing said of where it conditions, is taken to be put there at once.
    """
    if choice.forced:
        return ""
    said = choice.conditioning_c is not None
    put_c = choice.storage_c if is_keg(choice) and not said else conditioning_c
    if put_c >= max(yeast_low_c - SLUGGISH_BELOW_RANGE_C, ASLEEP_BELOW_C):
        return ""
    return (
        f"at {amounts.temperature(put_c, None)} the yeast sleeps: the sugar makes no CO2 until the "
        f"{'keg' if is_keg(choice) else 'bottle'} is warmed, and then all of it at once"
    )


def awake(choice: PackageChoice) -> str:
    """What to do about that."""
    here = f"--conditioning {amounts.typed_temperature(20)}"
    warm = f"Let it condition where the yeast works ({here}), and cool it afterwards"
    return f"{warm}; or carbonate it from a cylinder (--way forced)." if is_keg(choice) else f"{warm}."


def named(choice: PackageChoice) -> str:
    """`returnable glass bottle, 2.4 volumes`; `keg, primed, 2.4 volumes`."""
    way = "" if choice.way is None else f", {choice.way}"
    return f"{_kind(choice)}{way}, {choice.volumes:.1f} volumes"


def _kind(choice: PackageChoice) -> str:
    """In the trade's words, of whatever a store may hold."""
    kind = PACKAGES.get(choice.kind)
    return choice.kind if kind is None else kind.name


def judged_at(warmest: Warmest) -> str:
    """`25 °C, where it will stand`."""
    return f"{amounts.temperature(warmest.temperature_c, None)}, {warmest.why}"
