"""The risk a bottler runs: how high the pressure in a bottle may climb, and how likely it passes the bottle's limit.

What can still ferment is a normal distribution cut off at zero; the dose of sugar varies from bottle to bottle; both
add up in closed form (a bivariate normal). The CO2 held before is an interval and no distribution, for the whole batch
shares it: the low quantile stands on its low end, the median on its middle, the high quantile and the chance on its
high end. The beer is taken to dissolve 5 % less CO2 than usual, and all CO2 to be in the beer: both on the safe side.
"""

import math
from dataclasses import dataclass
from statistics import NormalDist

from fermwatch.science.bivariate_normal import upper_orthant, upper_tail
from fermwatch.science.carbonation import ResidualCo2, sugar_named, trapped_air_bar, volumes_from_sugar
from fermwatch.science.numeric import within
from fermwatch.science.solubility import (
    ATMOSPHERE_BAR,
    VOLUMES_HIGH,
    VOLUMES_PER_POINT,
    co2_pressure_bar,
    headspace_volumes,
    volumes,
    water_vapour_bar,
)

SAFE_BEER_PER_WATER = 0.90
STORAGE_C = 30.0
HOT_STORAGE_C = 40.0
HEADSPACE_SHARE = 0.04
BEYOND_ANY_BOTTLE_VOLUMES = 15.0

_FAR_SD = 8.0
_NEGLIGIBLE_VOLUMES = 1e-9
_LEAST_VOLUMES_PER_POINT, _MOST_VOLUMES_PER_POINT = 0.4, 0.7
_STANDARD = NormalDist()


@dataclass(frozen=True, slots=True)
class FermentableLeft:
    """What can still ferment, in points (0.001 SG): a normal with this mean and sd, cut off at zero.

    mean_points: of the normal before the cut, -5 sd .. 150 points.
    sd_points: 0 for a known amount.
    """

    mean_points: float
    sd_points: float

    def __post_init__(self) -> None:
        within(self.sd_points, 0.0, 50.0, quantity="sd of what is left", unit="points")
        within(self.mean_points, -5.0 * self.sd_points, 150.0, quantity="gravity left", unit="points")

    @property
    def expected_points(self) -> float:
        """The mean after the cut: never below zero, and above `mean_points` where zero is near."""
        if self.sd_points * _MOST_VOLUMES_PER_POINT < _NEGLIGIBLE_VOLUMES:
            return max(0.0, self.mean_points)
        cut = -self.mean_points / self.sd_points
        return self.mean_points + self.sd_points * _STANDARD.pdf(cut) / upper_tail(cut)


@dataclass(frozen=True, slots=True)
class SugarDose:
    """Priming sugar, g per L of beer, and how far a bottle's share may be off (relative sd).

    weighing_error and volume_error belong to the batch, bottle_spread to uneven mixing (common practice: 1, 3, 10 %).
    """

    g_per_l: float = 0.0
    sugar: str = "sucrose"
    weighing_error: float = 0.01
    volume_error: float = 0.03
    bottle_spread: float = 0.10

    @property
    def volumes(self) -> float:
        """Volumes of CO2 by the dose as meant."""
        return volumes_from_sugar(self.g_per_l, self.sugar)

    @property
    def relative_sd(self) -> float:
        """All errors together, with that of the sugar's own yield."""
        spread = sugar_named(self.sugar).spread
        return math.hypot(self.weighing_error, self.volume_error, self.bottle_spread, spread)


@dataclass(frozen=True, slots=True)
class Bottle:
    """A filled, closed package, and how warm it gets.

    limit_bar_gauge: what it may hold for good, by its maker or by the kind of package.
    temperature_c: what it is judged at.
    headspace_share: part of it left empty.
    air: whether air was shut into that part; a keg purged with CO2 holds none.
    gas_counted: whether the CO2 over the beer is counted apart from that in it, as in a keg, whose headspace may be
    large. A bottle's is taken to be all in the beer: nearly so, and on the safe side.
    accepted_chance: that it exceeds its limit; 95 % of all must stay below in any case.
    """

    limit_bar_gauge: float
    temperature_c: float = STORAGE_C
    headspace_share: float = HEADSPACE_SHARE
    filling_c: float = 20.0
    atmosphere_bar: float = ATMOSPHERE_BAR
    air: bool = True
    gas_counted: bool = False
    accepted_chance: float = 0.05

    def __post_init__(self) -> None:
        within(self.limit_bar_gauge, 0.5, 12.0, quantity="pressure limit", unit="bar gauge")

    def air_bar(self) -> float:
        """Pressure that the air shut in adds."""
        if not self.air:
            return 0.0
        return trapped_air_bar(
            self.headspace_share, self.temperature_c, filling_c=self.filling_c, atmosphere_bar=self.atmosphere_bar
        )

    def pressure_bar_gauge(self, volumes: float) -> float:
        """Gauge pressure with so many volumes of CO2 in the package, per litre of beer, on the safe side."""
        in_beer = self.in_beer(min(volumes, BEYOND_ANY_BOTTLE_VOLUMES))
        co2 = co2_pressure_bar(in_beer, self.temperature_c, beer_per_water=SAFE_BEER_PER_WATER)
        return co2 + water_vapour_bar(self.temperature_c) + self.air_bar() - self.atmosphere_bar

    def volumes_at_limit(self) -> float:
        """Volumes of CO2 in the beer that bring the package exactly to its limit; below zero where air alone does."""
        water_bar = water_vapour_bar(self.temperature_c)
        co2_bar = self.limit_bar_gauge - self.air_bar() + self.atmosphere_bar - water_bar
        if co2_bar < 0.5:  # below what the solubility is good for: any beer is too much
            return 0.0
        return volumes(
            co2_bar + water_bar - self.atmosphere_bar,
            self.temperature_c,
            atmosphere_bar=self.atmosphere_bar,
            beer_per_water=SAFE_BEER_PER_WATER,
        )

    def with_gas(self, in_beer: float) -> float:
        """Volumes in the package, per litre of beer, where the beer holds so many."""
        return in_beer + self._over_beer(in_beer)

    def _over_beer(self, in_beer: float, beer_per_water: float = SAFE_BEER_PER_WATER) -> float:
        if not self.gas_counted:
            return 0.0
        return headspace_volumes(in_beer, self.temperature_c, self.headspace_share, beer_per_water=beer_per_water)

    def in_beer(self, volumes: float, beer_per_water: float = SAFE_BEER_PER_WATER) -> float:
        """Volumes in the beer, where the package holds so many: the inverse of `with_gas`.

        The share over the beer hardly changes with the volumes, so that a few steps do.
        """
        if not self.gas_counted:
            return volumes
        in_beer = max(volumes, 1e-6)
        for _ in range(8):
            in_beer = max(volumes / (1.0 + self._over_beer(in_beer, beer_per_water) / in_beer), 1e-6)
        return in_beer


@dataclass(frozen=True, slots=True)
class CarbonationDistribution:
    """Volumes of CO2 in a bottle once all is fermented: `base` + `per_point` x what was left + the dose's error."""

    base_volumes: float
    per_point_volumes: float
    left: FermentableLeft
    dose_sd_volumes: float

    def chance_above(self, volumes: float) -> float:
        """Return the chance that a bottle holds more than `volumes`."""
        mean = self.base_volumes + self.per_point_volumes * self.left.mean_points
        left_sd = self.per_point_volumes * self.left.sd_points
        total_sd = math.hypot(left_sd, self.dose_sd_volumes)
        if total_sd < _NEGLIGIBLE_VOLUMES:
            return 1.0 if mean > volumes else 0.0
        threshold = (volumes - mean) / total_sd
        if left_sd < _NEGLIGIBLE_VOLUMES:
            return upper_tail(threshold)
        cut = -self.left.mean_points / self.left.sd_points
        return min(1.0, upper_orthant(cut, threshold, left_sd / total_sd) / upper_tail(cut))

    def quantile(self, share: float) -> float:
        """Return the volumes that `share` (0..1) of bottles stay below, to 1e-7, by bisection."""
        left_reach = max(0.0, self.left.mean_points) + _FAR_SD * self.left.sd_points
        low = self.base_volumes - _FAR_SD * self.dose_sd_volumes
        high = self.base_volumes + self.per_point_volumes * left_reach + _FAR_SD * self.dose_sd_volumes
        while high - low > 1e-7:
            middle = 0.5 * (low + high)
            if self.chance_above(middle) > 1.0 - share:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)


@dataclass(frozen=True, slots=True)
class PressureRisk:
    """What may become of a package at the temperature that it is judged at; pressures are gauge, bar.

    low_bar, median_bar, high_bar: 5, 50 and 95 % of bottles stay below.
    chance_over_limit: that a bottle exceeds its limit (not that it bursts).
    volumes_at_limit: CO2 in the beer that would bring it there.
    median_volumes, high_volumes: CO2 in the middle and at the high end.
    accepted_chance: what was accepted of that package.
    """

    low_bar: float
    median_bar: float
    high_bar: float
    chance_over_limit: float
    limit_bar: float
    volumes_at_limit: float
    median_volumes: float
    high_volumes: float
    accepted_chance: float = 0.05

    @property
    def acceptable(self) -> bool:
        """Whether the 95 % upper end stays below the limit, and the chance is no more than is accepted."""
        return self.high_bar < self.limit_bar and self.chance_over_limit <= self.accepted_chance

    @property
    def extrapolated(self) -> bool:
        """Whether the high end lies above the 6 volumes that the solubility is good for."""
        return self.high_volumes > VOLUMES_HIGH

    @property
    def beyond_any(self) -> bool:
        """Whether the middle lies above them too: no package holds that."""
        return self.median_volumes > VOLUMES_HIGH


def carbonation_distribution(
    left: FermentableLeft, residual_volumes: float, dose: SugarDose, volumes_per_point: float = VOLUMES_PER_POINT
) -> CarbonationDistribution:
    """Return the distribution of volumes on a given residual; 0.4..0.7 volumes per point."""
    low, high = _LEAST_VOLUMES_PER_POINT, _MOST_VOLUMES_PER_POINT
    within(volumes_per_point, low, high, quantity="CO2 of a point", unit="volumes")
    added = dose.volumes
    return CarbonationDistribution(residual_volumes + added, volumes_per_point, left, added * dose.relative_sd)


def pressure_risk(
    left: FermentableLeft,
    residual: ResidualCo2,
    dose: SugarDose,
    bottle: Bottle,
    volumes_per_point: float = VOLUMES_PER_POINT,
) -> PressureRisk:
    """Return how high the pressure may climb in a bottle, and the chance that it exceeds the bottle's limit.

    Raises OutOfDomain where a part lies outside its range (judged at -2..60 °C, head space 2..60 %, limit 0.5..12 bar).
    """

    def on(residual_volumes: float) -> CarbonationDistribution:
        return carbonation_distribution(left, residual_volumes, dose, volumes_per_point)

    median_volumes, high_volumes = on(residual.middle).quantile(0.50), on(residual.high).quantile(0.95)
    at_limit = bottle.volumes_at_limit()
    return PressureRisk(
        low_bar=bottle.pressure_bar_gauge(on(residual.low).quantile(0.05)),
        median_bar=bottle.pressure_bar_gauge(median_volumes),
        high_bar=bottle.pressure_bar_gauge(high_volumes),
        chance_over_limit=on(residual.high).chance_above(bottle.with_gas(at_limit)),
        limit_bar=bottle.limit_bar_gauge,
        volumes_at_limit=at_limit,
        median_volumes=median_volumes,
        high_volumes=high_volumes,
        accepted_chance=bottle.accepted_chance,
    )
