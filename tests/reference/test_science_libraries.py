"""The formulas against reference libraries and second published formulas, which share no line with them."""

import math
from collections.abc import Iterator

import chemicals
import iapws
import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from fermwatch.science import (
    alcohol,
    carbonation,
    ethanol_water,
    extract,
    heat,
    hydrometer,
    refractometer,
    sensors,
    solubility,
)

ATMOSPHERE_PA = 101_325.0
CELSIUS = (0.5, 4.0, 10.0, 15.56, 20.0, 25.0, 30.0, 40.0)


def kelvin(celsius: float) -> float:
    return celsius + 273.15


@pytest.mark.parametrize("celsius", CELSIUS)
def test_water_density_is_that_of_iapws_95(celsius: float) -> None:
    """IAPWS-95, once by iapws and once by CoolProp."""
    ours = extract.water_density(celsius)
    assert ours == pytest.approx(iapws.IAPWS95(T=kelvin(celsius), P=0.101325).rho, abs=0.006)
    assert ours == pytest.approx(PropsSI("D", "T", kelvin(celsius), "P", ATMOSPHERE_PA, "Water"), abs=0.006)


@pytest.mark.parametrize("celsius", CELSIUS)
def test_vapour_pressure_of_water_is_that_of_iapws_95(celsius: float) -> None:
    expected = PropsSI("P", "T", kelvin(celsius), "Q", 0, "Water") / 1e5
    assert solubility.water_vapour_bar(celsius) == pytest.approx(expected, rel=3e-4)


@pytest.mark.parametrize("celsius", CELSIUS)
def test_refractive_index_of_water_is_that_of_iapws(celsius: float) -> None:
    """IAPWS R9-97 by iapws, at the sodium line."""
    state = iapws.IAPWS95(T=kelvin(celsius), P=0.101325)
    assert refractometer.water_index(celsius) == pytest.approx(
        iapws._iapws._Refractive(state.rho, kelvin(celsius), 0.589), abs=2e-6
    )


def test_a_volume_of_co2_weighs_what_span_and_wagner_say() -> None:
    """Span & Wagner 1996 by CoolProp: 1.9768 g/L; the ideal gas would give 1.9635."""
    expected = PropsSI("D", "T", 273.15, "P", ATMOSPHERE_PA, "CarbonDioxide")
    assert pytest.approx(expected, rel=3e-4) == solubility.GRAMS_PER_LITRE_PER_VOLUME


@pytest.mark.parametrize("celsius", [25.0, 30.0, 40.0, 50.0, 60.0])
def test_co2_in_water_agrees_with_iapws_where_its_data_are_dense(celsius: float) -> None:
    """IAPWS G7-04, whose fit lies 3.5 % lower near 5 °C and is compared only from 25 °C up."""
    henry_pa = iapws._iapws._Henry(kelvin(celsius), "CO2") * 1e6
    expected = ATMOSPHERE_PA / henry_pa * 55.34
    assert solubility.henry_water(celsius) == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize("celsius", [40.0, 50.0, 60.0])
def test_co2_in_warm_water_agrees_with_what_was_measured_there(celsius: float) -> None:
    """Carroll, Slupsky & Mather, J. Phys. Chem. Ref. Data 20 (1991) 1201, from some hundred works, 0 to 160 °C."""
    k = kelvin(celsius)
    henry_mpa = math.exp(-6.8346 + 1.2817e4 / k - 3.7668e6 / k**2 + 2.997e8 / k**3)
    water_mol_per_l = PropsSI("D", "T", k, "P", 101325.0, "Water") / 18.015
    expected = 0.101325 / henry_mpa * water_mol_per_l
    assert solubility.henry_water(celsius) == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize("celsius", [5.0, 20.0, 40.0])
def test_nitrogen_in_water_agrees_with_iapws(celsius: float) -> None:
    """IAPWS G7-04 against Sander's constant (from memory); 12 % of it are 0.02 bar in a bottle."""
    henry_pa = iapws._iapws._Henry(kelvin(celsius), "N2") * 1e6
    expected = ATMOSPHERE_PA / henry_pa * 55.34
    assert carbonation.nitrogen_solubility_mol_per_l_atm(celsius) == pytest.approx(expected, rel=0.12)


@pytest.mark.parametrize("celsius", [50.0, 60.0])
def test_nitrogen_in_warm_water_errs_to_the_safe_side(celsius: float) -> None:
    """What dissolves less presses more: 17 % less at 60 °C are 0.02 bar."""
    henry_pa = iapws._iapws._Henry(kelvin(celsius), "N2") * 1e6
    most = ATMOSPHERE_PA / henry_pa * 55.34
    assert 0.8 * most < carbonation.nitrogen_solubility_mol_per_l_atm(celsius) < most


@pytest.mark.parametrize("celsius", [5.0, 20.0, 40.0, 60.0])
@pytest.mark.parametrize("gauge", [0.0, 3.0, 8.0])
def test_pressure_departs_from_henrys_law_as_span_and_wagner_say(celsius: float, gauge: float) -> None:
    """Solubility per bar falls with fugacity (CoolProp) and with the dissolved molecules' volume, 33 cm³/mol."""
    co2_bar = gauge + 1.01325 - solubility.water_vapour_bar(celsius)
    grams = solubility.grams_per_litre(gauge, celsius)
    phi = _fugacity_coefficient(celsius, co2_bar) / _fugacity_coefficient(celsius, 1.0)
    poynting = math.exp(-33.0 * (co2_bar - 1.0) / (83.14463 * kelvin(celsius)))
    expected = co2_bar * phi * poynting * _grams_at_1_bar_of_co2(celsius)
    assert grams == pytest.approx(expected, rel=2e-3)


def _fugacity_coefficient(celsius: float, bar: float) -> float:
    """By integration of (Z - 1)/p over CoolProp's Z."""
    pressures = np.linspace(1e-3, bar * 1e5, 201)
    z = np.array([PropsSI("Z", "T", kelvin(celsius), "P", p, "CarbonDioxide") for p in pressures])
    return math.exp(float(np.trapezoid((z - 1.0) / pressures, pressures)))


def _grams_at_1_bar_of_co2(celsius: float) -> float:
    return solubility.grams_per_litre(1.0 + solubility.water_vapour_bar(celsius) - 1.01325, celsius)


def test_pure_ethanol_is_as_dense_as_coolprop_says() -> None:
    """Schroeder et al. 2014 by CoolProp, an equation of its own data; OIML prints 789.24."""
    expected = PropsSI("D", "T", 293.15, "P", ATMOSPHERE_PA, "Ethanol")
    assert ethanol_water.density(100.0, 20.0) == pytest.approx(expected, rel=1.5e-3)


@pytest.mark.parametrize(
    ("slug", "atoms", "co2_molecules"),
    [
        ("glucose", {"C": 6, "H": 12, "O": 6}, 2),
        ("glucose-monohydrate", {"C": 6, "H": 14, "O": 7}, 2),
        ("sucrose", {"C": 12, "H": 22, "O": 11}, 4),
        ("maltose", {"C": 12, "H": 22, "O": 11}, 4),
    ],
)
def test_pure_sugars_yield_what_their_atoms_give(slug: str, atoms: dict[str, int], co2_molecules: int) -> None:
    """IUPAC atomic weights by chemicals."""
    co2 = chemicals.elements.molecular_weight({"C": 1, "O": 2})
    expected = co2_molecules * co2 / chemicals.elements.molecular_weight(atoms)
    assert carbonation.SUGARS[slug].co2_g_per_g == pytest.approx(expected, rel=2e-5)


@pytest.mark.parametrize("plato", [0.0, 5.0, 12.0, 20.0, 30.0, 40.0])
def test_plato_agrees_with_another_fit_of_the_nbs_table(plato: float) -> None:
    """The rational fit 28.14203 S + 202.4427 - 230.587/S of the same table: within 0.008 °P to 40 °P."""
    gravity = extract.plato_to_sg(plato)
    assert 28.14203 * gravity + 202.4427 - 230.587 / gravity == pytest.approx(plato, abs=0.008)


@pytest.mark.parametrize("gravity", [0.990, 0.995, 1.0, 1.040, 1.080])
def test_the_gravity_table_agrees_with_icumsa(gravity: float) -> None:
    """NBS (weighed in air) against ICUMSA SPS-4 (in vacuum), below water too: two sources, two scales."""
    plato = extract.sg_to_plato(gravity)
    assert extract.apparent_from_vacuum_sg(extract.relative_density(plato, 20.0)) == pytest.approx(gravity, abs=6e-5)


@pytest.mark.parametrize(("og_sg", "fg_sg"), [(1.040, 1.010), (1.048, 1.010), (1.060, 1.012), (1.080, 1.016)])
def test_alcohol_by_convention_lies_within_two_percent_of_the_measured_densities(og_sg: float, fg_sg: float) -> None:
    """Balling's balance with Tabarie's rule and OIML R 22 in place of the customary 0.1808/0.8192."""
    assert alcohol.abv_from_gravity(og_sg, fg_sg) == pytest.approx(_abv_by_densities(og_sg, fg_sg), rel=0.022)


def _abv_by_densities(og_sg: float, fg_sg: float) -> float:
    oe = extract.sg_to_plato(og_sg)
    low, high = 0.0, 0.48 * oe
    while high - low > 1e-9:
        abw = 0.5 * (low + high)
        re = oe - abw * (2.0665 - 0.010665 * oe)
        alcohol_sg = ethanol_water.density(abw, 20.0) / ethanol_water.density(0.0, 20.0)
        beer_sg = alcohol_sg + extract.plato_to_sg(re) - 1.0
        low, high = (abw, high) if beer_sg > fg_sg else (low, abw)
    return low * fg_sg / 0.79066


def test_the_heat_of_fermentation_lies_between_its_enthalpies() -> None:
    """NBS tables (from memory): glucose(aq) -1262.2, ethanol(aq) -288.3, CO2(g) -393.51 kJ/mol; maltose +4.5."""
    glucose = (1262.2 - 2 * 288.3 - 2 * 393.51) / 180.156 * -1000.0
    maltose = (2 * (2 * 288.3 + 2 * 393.51 - 1262.2) + 4.5) / 342.297 * 1000.0
    assert glucose == pytest.approx(563.0, abs=1.0)
    assert glucose < heat.HEAT_OF_FERMENTATION_KJ_PER_KG < maltose


def test_specific_heat_of_water_is_that_of_iapws() -> None:
    assert heat.specific_heat_kj_per_kg_k(0.0, 20.0) == pytest.approx(
        PropsSI("C", "T", 293.15, "P", ATMOSPHERE_PA, "Water") / 1000.0, rel=2e-3
    )


@pytest.mark.parametrize(("altitude_m", "hectopascal"), [(0, 1013.25), (1000, 898.75), (1500, 845.56), (2000, 794.95)])
def test_air_pressure_by_altitude_is_that_of_the_standard_atmosphere(altitude_m: float, hectopascal: float) -> None:
    """ISO 2533 table (from memory)."""
    assert solubility.pressure_at_altitude_bar(altitude_m) == pytest.approx(hectopascal / 1000.0, abs=5e-5)


@pytest.mark.parametrize("celsius", [5.0, 10.0, 30.0, 40.0])
def test_a_stem_in_water_reads_as_iapws_water_and_its_glass_say(celsius: float) -> None:
    """Density of IAPWS-95 and the expansion of ISO 1768, with no solution formula in between."""
    reading = _iapws_density(celsius) / _iapws_density(20.0) * (1.0 + 25e-6 * (celsius - 20.0))
    assert hydrometer.correct_sg(reading, celsius) == pytest.approx(1.0, abs=1e-5)


def _iapws_density(celsius: float) -> float:
    return float(iapws.IAPWS95(T=kelvin(celsius), P=0.101325).rho)


def test_water_gains_1_77_points_between_20_and_4_degrees() -> None:
    assert 1000.0 * (_iapws_density(4.0) / _iapws_density(20.0) - 1.0) == pytest.approx(1.77, abs=0.005)
    gained = extract.water_density(4.0) / extract.water_density(20.0) - 1.0
    assert 1000.0 * gained == pytest.approx(1.77, abs=0.005)


@pytest.mark.parametrize("celsius", [-100.0, -10.0, 0.0, 25.0, 100.0, 400.0])
def test_platinum_follows_iec_60751_written_out(celsius: float) -> None:
    expected = 1.0 + 3.9083e-3 * celsius - 5.775e-7 * celsius**2
    if celsius < 0.0:
        expected += -4.183e-12 * (celsius - 100.0) * celsius**3
    assert sensors.pt_resistance_ohm(celsius, 1000.0) == pytest.approx(1000.0 * expected, rel=1e-12)


def test_crc_is_the_remainder_of_the_polynomial_division() -> None:
    """Long division of the bit-reversed message by x^8 + x^5 + x^4 + 1, as application note 27 defines it."""
    for message in (b"\x02\x1c\xb8\x01\x00\x00\x00", bytes(range(8)), b"\xff" * 8):
        assert sensors.crc8_maxim(message) == _remainder(message)


def _remainder(message: bytes) -> int:
    register = 0
    for bit in [*_bits(message), *[0] * 8]:
        register = register << 1 | bit
        if register & 0x100:
            register ^= 0x131
    return int(f"{register:08b}"[::-1], 2)


def _bits(message: bytes) -> Iterator[int]:
    return (byte >> place & 1 for byte in message for place in range(8))
