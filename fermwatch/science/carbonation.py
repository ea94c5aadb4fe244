"""From flat beer to a conditioned bottle: CO2 left in it, sugar to add, gravity still to ferment, air shut in.

Sources: molar masses (full stoichiometry: hardly any yeast grows on priming sugar, and it is the safe side); Balling's
0.9565 g CO2 per g ethanol; Sander 2015 (nitrogen in water, from memory). Figures marked common practice have no
published source at hand.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fermwatch.errors import InputError, OutOfDomain
from fermwatch.science.alcohol import BALLING_YIELD_PER_100G_EXTRACT, CO2_PER_ETHANOL, abw, fermented_extract_pct
from fermwatch.science.extract import WATER_DENSITY_20, sg_to_plato, sucrose_density
from fermwatch.science.numeric import Number, beside, exp, within
from fermwatch.science.solubility import (
    ATMOSPHERE_BAR,
    GRAMS_PER_LITRE_PER_VOLUME,
    MOLAR_MASS_G,
    TEMPERATURE_HIGH_C,
    TEMPERATURE_LOW_C,
    volumes,
)

CO2_PER_EXTRACT = BALLING_YIELD_PER_100G_EXTRACT["co2"] / 100.0  # g/g, with yeast growth
SUPERSATURATION = 0.15  # common practice: what still beer may hold above balance

_NITROGEN_SHARE_OF_AIR = 0.7905  # with argon; yeast uses up the oxygen
_GAS_CONSTANT_ATM = 0.08205737  # L atm / (mol K)
_EXPANDS_LIKE_PCT = 6.0  # sucrose, % by mass, whose expansion is nearest to beer's


@dataclass(frozen=True, slots=True)
class Sugar:
    """A priming sugar as it is weighed.

    co2_g_per_g: yield by full fermentation of what is fermentable in it.
    spread: relative uncertainty of that yield; none for a pure substance.
    common_practice: True where the yield is a figure of the trade rather than a molar mass.
    """

    slug: str
    name: str
    co2_g_per_g: float
    spread: float = 0.0
    common_practice: bool = False

    @property
    def g_per_l_per_volume(self) -> float:
        """Grams per litre of beer for one volume of CO2."""
        return GRAMS_PER_LITRE_PER_VOLUME / self.co2_g_per_g


def _pure(slug: str, name: str, molecules: int, molar_mass_g: float) -> Sugar:
    return Sugar(slug, name, molecules * MOLAR_MASS_G / molar_mass_g)


def _by_practice(slug: str, name: str, g_per_l_per_volume: float, spread: float) -> Sugar:
    return Sugar(slug, name, GRAMS_PER_LITRE_PER_VOLUME / g_per_l_per_volume, spread, common_practice=True)


SUGARS: Mapping[str, Sugar] = MappingProxyType(
    {
        sugar.slug: sugar
        for sugar in (
            _pure("sucrose", "table sugar (sucrose)", 4, 342.2965),
            _pure("glucose", "glucose, anhydrous", 2, 180.1559),
            _pure("glucose-monohydrate", "glucose monohydrate (corn sugar)", 2, 198.1712),
            _pure("maltose", "maltose, anhydrous", 4, 342.2965),
            _by_practice("dry-malt-extract", "dry malt extract", 6.4, 0.10),
            _by_practice("honey", "honey", 5.1, 0.10),
        )
    }
)


# Sold as dextrose or corn sugar it is the monohydrate (common practice).
ON_THE_BAG: Mapping[str, str] = MappingProxyType(
    {
        "dextrose": "glucose-monohydrate",
        "corn-sugar": "glucose-monohydrate",
        "table-sugar": "sucrose",
        "cane-sugar": "sucrose",
        "dme": "dry-malt-extract",
    }
)


def sugar_named(slug: str) -> Sugar:
    """Return the sugar of a slug, or of what stands on its bag; `_` or a space serves for `-`.

    Raises:
        InputError: naming the sugars there are.
    """
    name = slug.strip().lower().replace("_", "-").replace(" ", "-")
    found = SUGARS.get(ON_THE_BAG.get(name, name))
    if found is None:
        raise InputError(f"{slug!r} is not a sugar known here.", hint=f"Known: {', '.join(SUGARS)}.")
    return found


@dataclass(frozen=True, slots=True)
class ResidualCo2:
    """Volumes of CO2 that beer holds before the sugar: doses are reckoned on the middle, glass on the high end."""

    low: float
    high: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.low <= self.high:
            raise OutOfDomain(quantity="residual CO2", value=self.low, low=0.0, high=self.high, unit="volumes")

    @property
    def middle(self) -> float:
        """Half way between the ends."""
        return 0.5 * (self.low + self.high)


def residual_volumes(warmest_c: Number, *, atmosphere_bar: float = ATMOSPHERE_BAR) -> Number:
    """Return volumes held at air pressure at the *highest temperature since fermentation was active*.

    A warm rest drives CO2 out and cooling does not bring it back. Domain -2..60 °C; `atmosphere_bar` is the station
    pressure (0.67 instead of 0.80 volumes at 20 °C and 1500 m).
    """
    return volumes(beside(0.0, warmest_c), warmest_c, atmosphere_bar=atmosphere_bar)


def residual_interval(
    warmest_c: float,
    ended_c: float,
    *,
    head_pressure_bar_gauge: float = 0.0,
    atmosphere_bar: float = ATMOSPHERE_BAR,
) -> ResidualCo2:
    """Return the interval of CO2 held by beer that fermented out without being fed CO2.

    Low: in balance with air pressure at the warmest since active. High: in balance at the temperature and head pressure
    when activity ended, and 15 % supersaturation on top (common practice). Raises OutOfDomain where `ended_c` is above
    `warmest_c`, or either outside -2..60 °C.
    """
    hint = "The warmest since active cannot be below the temperature at its end."
    within(ended_c, TEMPERATURE_LOW_C, warmest_c, quantity="temperature when activity ended", unit="°C", hint=hint)
    held = volumes(head_pressure_bar_gauge, ended_c, atmosphere_bar=atmosphere_bar)
    low = residual_volumes(warmest_c, atmosphere_bar=atmosphere_bar)
    return ResidualCo2(low, held * (1.0 + SUPERSATURATION))


def residual_interval_fed(
    warmest_c: float,
    present_c: float,
    present_bar_gauge: float,
    *,
    atmosphere_bar: float = ATMOSPHERE_BAR,
) -> ResidualCo2:
    """Return the interval for beer that was fed CO2 (a cylinder, or spunded): high is in balance with it as it is now.

    Raises OutOfDomain outside -2..60 °C and 0..12 bar.
    """
    held = volumes(present_bar_gauge, present_c, atmosphere_bar=atmosphere_bar)
    low = residual_volumes(warmest_c, atmosphere_bar=atmosphere_bar)
    return ResidualCo2(min(low, held), held)


def priming_sugar_g_per_l(
    target_volumes: Number,
    warmest_c: Number,
    sugar: str = "sucrose",
    *,
    atmosphere_bar: float = ATMOSPHERE_BAR,
) -> Number:
    """Return grams of sugar per litre of beer for `target_volumes`, on what it holds after its warmest temperature.

    Domain: target 0..6 volumes and not below what the beer holds already; 0..60 °C; OutOfDomain outside.
    """
    return sugar_for_rise_g_per_l(target_volumes, residual_volumes(warmest_c, atmosphere_bar=atmosphere_bar), sugar)


def sugar_for_rise_g_per_l(target_volumes: Number, residual: Number, sugar: str = "sucrose") -> Number:
    """Return grams of sugar per litre that lift beer from `residual` to `target_volumes`; domain as above.

    Raises InputError where it holds more than that already.
    """
    within(target_volumes, 0.0, 6.0, quantity="carbonation wanted", unit="volumes")
    try:
        rise = within(target_volumes - residual, 0.0, 6.0, quantity="carbonation to add", unit="volumes")
    except OutOfDomain:
        raise InputError("No sugar is needed: the beer already holds more CO2 than that.") from None
    return rise * sugar_named(sugar).g_per_l_per_volume


def volumes_from_sugar(sugar_g_per_l: Number, sugar: str = "sucrose") -> Number:
    """Return volumes of CO2 by a dose of sugar fermented wholly; domain 0..50 g/L."""
    within(sugar_g_per_l, 0.0, 50.0, quantity="sugar", unit="g/L")
    return sugar_g_per_l / sugar_named(sugar).g_per_l_per_volume


def co2_from_gravity_drop_g_per_l(og_sg: Number, from_sg: Number, to_sg: Number) -> Number:
    """Return g CO2 per L of beer made while the gravity falls from `from_sg` to `to_sg` (Balling's balance).

    Domain: gravities as in `sg_to_plato`, to <= from <= original; OutOfDomain outside.
    """
    hint = "Are the two gravities swapped?"
    within(from_sg - to_sg, 0.0, 0.2, quantity="fall in gravity", unit="SG", hint=hint)
    oe = sg_to_plato(og_sg)
    made_pct = abw(oe, sg_to_plato(to_sg)) - abw(oe, sg_to_plato(from_sg))
    return CO2_PER_ETHANOL * made_pct / 100.0 * to_sg * WATER_DENSITY_20


def volumes_left(og_sg: Number, now_sg: Number, terminal_sg: Number) -> Number:
    """Return volumes of CO2 that the unfermented gravity would still give: about 0.53 per point."""
    return co2_from_gravity_drop_g_per_l(og_sg, now_sg, terminal_sg) / GRAMS_PER_LITRE_PER_VOLUME


def volumes_per_point(og_sg: Number, now_sg: Number) -> Number:
    """Return volumes of CO2 per point (0.001 SG) still to ferment below `now_sg`: 0.51..0.55."""
    return volumes_left(og_sg, now_sg, now_sg - 0.001)


def batch_co2_kg(volume_l: Number, oe: Number, ae: Number) -> Number:
    """Return kg of CO2 made by a batch, by Balling's balance: 100 parts of extract fermented give 46.286 of CO2.

    20 L from 12 to 2.5 °P give 0.77 kg, 0.4 m³ of gas in the room; what the beer keeps (0.03 kg) is counted too.
    Domain: OE 0..35 °P, AE -2.62..OE; OutOfDomain outside.
    """
    wort_kg = volume_l * sucrose_density(oe, beside(20.0, oe)) / 1000.0
    return wort_kg * fermented_extract_pct(oe, ae) / 100.0 * CO2_PER_EXTRACT


def trapped_air_bar(
    headspace_share: Number,
    storage_c: Number,
    *,
    filling_c: float = 20.0,
    atmosphere_bar: float = ATMOSPHERE_BAR,
) -> Number:
    """Return what the air shut into a bottle adds to its pressure, bar: +0.64 at 4 % head space and 30 °C.

    Its nitrogen is warmed, squeezed by the beer's expansion, and partly dissolves; its oxygen is used up by the yeast.
    Domain: head space 2..60 % of the vessel, storage -2..60 °C. A fuller bottle is refused: it can burst by the beer's
    own expansion.
    """
    hint = "Leave 3 to 5 % of the bottle empty."
    within(headspace_share, 0.02, 0.60, quantity="head space", unit="of the bottle", hint=hint)
    within(storage_c, TEMPERATURE_LOW_C, TEMPERATURE_HIGH_C, quantity="storage temperature", unit="°C")
    within(filling_c, 0.0, TEMPERATURE_HIGH_C, quantity="filling temperature", unit="°C")
    stored_k, filled_k = storage_c + 273.15, filling_c + 273.15
    liquid_c = 0.5 * (storage_c + abs(storage_c))  # the table of densities begins at 0 °C, and nothing changes below
    expansion = sucrose_density(_EXPANDS_LIKE_PCT, filling_c) / sucrose_density(
        beside(_EXPANDS_LIKE_PCT, storage_c), liquid_c
    )
    beer_share = (1.0 - headspace_share) * expansion
    dissolves = beer_share * nitrogen_solubility_mol_per_l_atm(storage_c) * _GAS_CONSTANT_ATM * stored_k
    nitrogen_bar = _NITROGEN_SHARE_OF_AIR * atmosphere_bar * stored_k / filled_k
    return nitrogen_bar * headspace_share / (1.0 - beer_share + dissolves)


def nitrogen_solubility_mol_per_l_atm(temperature_c: Number) -> Number:
    """Return mol/(L atm) of nitrogen in water: 6.4e-4 at 25 °C; 0..60 °C."""
    return 6.4e-4 * exp(1300.0 / (temperature_c + 273.15) - 1300.0 / 298.15)
