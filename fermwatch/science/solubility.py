"""Carbon dioxide in beer: grams, volumes and the pressure in balance with them, by temperature.

Sources: Weiss, Marine Chemistry 2 (1974), solubility in water and second virial coefficient; Wagner & Pruss 1993
(IAPWS SR1-86), vapour pressure of water; factor 0.95 beer/water from the 222 points of the ASBC/Zahm-Nagel chart
(BrewingTechniques 2(1), 1994); molar volume of dissolved CO2 33 cm³/mol. The chart ends at 8 °C and 3.3 volumes:
beyond it this is Henry's law with fugacity and pressure, good to 5 %, not a measurement. Its row of 30 °F (-1.1 °C) is
met to 2 %; below -1 °C the law is carried on to where beer freezes, and from 40 to 60 °C by its own temperature law.
"""

from fermwatch.science.numeric import Number, exp, log, newton, polynomial, within

ATMOSPHERE_BAR = 1.01325
VOLUMES_PER_POINT = 0.53  # of CO2, for each point that beer still falls
GRAMS_PER_LITRE_PER_VOLUME = 1.977  # density of CO2 at 0 °C and 1 atm as a real gas; the ideal gas would be 1.9635
MOLAR_MASS_G = 44.0095
BEER_PER_WATER = 0.95
VOLUMES_HIGH = 6.0
TEMPERATURE_LOW_C = -2.0  # about where beer of 5 % by volume freezes; Weiss measured down to -1
TEMPERATURE_HIGH_C = 60.0  # a parked car; Weiss measured to 40, above that others agree to 3 %

_GAS_CONSTANT = 83.14463  # cm³ bar / (mol K)
_MOLAR_VOLUME_DISSOLVED = 33.0  # cm³/mol
_VIRIAL = (-1636.75, 12.0408, -0.0327957, 3.16528e-5)  # cm³/mol, in K
_ZERO_C = 273.15


def water_vapour_bar(temperature_c: Number) -> Number:
    """Return the vapour pressure of water, bar; domain -2..100 °C, below 0 over undercooled water."""
    within(temperature_c, TEMPERATURE_LOW_C, 100.0, quantity="temperature", unit="°C")
    kelvin = temperature_c + _ZERO_C
    away = 1.0 - kelvin / 647.096
    half = exp(0.5 * log(away))
    terms = (-7.85951783 + 1.84408259 * half) * away
    terms = terms + away * away * away * (-11.7866497 + 22.6807411 * half - 15.9618719 * away)
    terms = terms + 1.80122502 * away * away * away * away * away * away * away * half
    return 220.64 * exp(647.096 / kelvin * terms)


def henry_water(temperature_c: Number) -> Number:
    """Return CO2 dissolved in water under 1 atm of CO2, mol/L: Weiss's constant times the fugacity coefficient.

    Domain -2..60 °C. Other published fits differ by 2 to 3.5 %.
    """
    _check_temperature(temperature_c)
    return _weiss(temperature_c) * exp(ATMOSPHERE_BAR * _virial_per_bar(temperature_c))


def grams_per_litre(
    pressure_bar_gauge: Number,
    temperature_c: Number,
    *,
    atmosphere_bar: float = ATMOSPHERE_BAR,
    beer_per_water: float = BEER_PER_WATER,
) -> Number:
    """Return g/L of CO2 in beer in balance with a head space of CO2 and water vapour only.

    Domain -0.5..12 bar gauge and -2..60 °C, OutOfDomain outside.
    """
    _check_temperature(temperature_c)
    within(pressure_bar_gauge, -0.5, 12.0, quantity="pressure", unit="bar gauge")
    _check_atmosphere(atmosphere_bar)
    co2_bar = pressure_bar_gauge + atmosphere_bar - water_vapour_bar(temperature_c)
    return co2_bar * exp(_curvature_per_bar(temperature_c) * co2_bar) * _dilute(temperature_c, beer_per_water)


def volumes(
    pressure_bar_gauge: Number,
    temperature_c: Number,
    *,
    atmosphere_bar: float = ATMOSPHERE_BAR,
    beer_per_water: float = BEER_PER_WATER,
) -> Number:
    """Return volumes of CO2 in beer in balance with a gauge pressure; domain as `grams_per_litre`."""
    dissolved = grams_per_litre(
        pressure_bar_gauge, temperature_c, atmosphere_bar=atmosphere_bar, beer_per_water=beer_per_water
    )
    return dissolved / GRAMS_PER_LITRE_PER_VOLUME


def pressure_bar_gauge(
    volumes: Number,
    temperature_c: Number,
    *,
    atmosphere_bar: float = ATMOSPHERE_BAR,
    beer_per_water: float = BEER_PER_WATER,
) -> Number:
    """Return the gauge pressure, bar, in balance with dissolved volumes: of a keg to set, of a bottle without air.

    Domain 0..6 volumes and -2..60 °C; below the volumes held at atmospheric pressure the answer is negative.
    Raises OutOfDomain outside.
    """
    within(volumes, 0.0, VOLUMES_HIGH, quantity="carbonation", unit="volumes")
    _check_temperature(temperature_c)
    _check_atmosphere(atmosphere_bar)
    co2_bar = co2_pressure_bar(volumes, temperature_c, beer_per_water=beer_per_water)
    return co2_bar + water_vapour_bar(temperature_c) - atmosphere_bar


def co2_pressure_bar(volumes: Number, temperature_c: Number, *, beer_per_water: float = BEER_PER_WATER) -> Number:
    """Return the partial pressure of CO2, bar, in balance with dissolved volumes.

    Solves p exp(a p) = y, where a is the small curvature by fugacity and molar volume. No limit on volumes: what is
    above 6 is for ranking dangers, not for figures to print.
    """
    ideal = volumes * GRAMS_PER_LITRE_PER_VOLUME / _dilute(temperature_c, beer_per_water)
    curvature = _curvature_per_bar(temperature_c)

    def step(co2_bar: Number) -> tuple[Number, Number]:
        bend = exp(curvature * co2_bar)
        return co2_bar * bend - ideal, bend * (1.0 + curvature * co2_bar)

    return newton(ideal, step, steps=4)


def headspace_volumes(
    volumes: Number, temperature_c: Number, headspace_share: float, *, beer_per_water: float = BEER_PER_WATER
) -> Number:
    """Return what the gas over beer in balance holds, in volumes per litre of *beer*.

    0.14 at 2.4 volumes, 20 °C and 5 %. headspace_share: of the closed vessel, 0..0.6. Counted as an ideal gas: at 4 bar
    it holds 2 % more.
    """
    within(headspace_share, 0.0, 0.6, quantity="headspace", unit="of the vessel")
    co2_bar = co2_pressure_bar(volumes, temperature_c, beer_per_water=beer_per_water)
    grams_per_litre_of_gas = 1000.0 * MOLAR_MASS_G * co2_bar / (_GAS_CONSTANT * (temperature_c + _ZERO_C))
    return grams_per_litre_of_gas * headspace_share / (1.0 - headspace_share) / GRAMS_PER_LITRE_PER_VOLUME


def pressure_at_altitude_bar(altitude_m: Number) -> Number:
    """Return the mean air pressure at an altitude, bar (ISO 2533 standard atmosphere); domain -500..5000 m."""
    within(altitude_m, -500.0, 5000.0, quantity="altitude", unit="m")
    return ATMOSPHERE_BAR * exp(5.25588 * log(1.0 - 2.25577e-5 * altitude_m))


def _weiss(temperature_c: Number) -> Number:
    hundreds = (temperature_c + _ZERO_C) / 100.0
    return exp(-58.0931 + 90.5069 / hundreds + 22.2940 * log(hundreds))


def _dilute(temperature_c: Number, beer_per_water: float) -> Number:
    """Grams per litre and bar in the limit of low pressure; Weiss's constant holds at 1 atm total, hence the shift."""
    shift = exp(_molar_volume_per_bar(temperature_c))
    return beer_per_water * MOLAR_MASS_G / ATMOSPHERE_BAR * _weiss(temperature_c) * shift


def _virial_per_bar(temperature_c: Number) -> Number:
    kelvin = temperature_c + _ZERO_C
    return polynomial(_VIRIAL, kelvin) / (_GAS_CONSTANT * kelvin)


def _molar_volume_per_bar(temperature_c: Number) -> Number:
    return _MOLAR_VOLUME_DISSOLVED / (_GAS_CONSTANT * (temperature_c + _ZERO_C))


def _curvature_per_bar(temperature_c: Number) -> Number:
    """d ln(solubility)/dp: the gas's fugacity and the dissolved molecules' volume both lower it."""
    return _virial_per_bar(temperature_c) - _molar_volume_per_bar(temperature_c)


def _check_temperature(temperature_c: Number) -> None:
    within(temperature_c, TEMPERATURE_LOW_C, TEMPERATURE_HIGH_C, quantity="temperature", unit="°C")


def _check_atmosphere(atmosphere_bar: float) -> None:
    within(atmosphere_bar, 0.5, 1.1, quantity="air pressure", unit="bar")
