"""Conversions over their whole domain: exact inverses, monotonic, continuous, and the same for arrays as for floats."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.errors import OutOfDomain
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

celsius = st.floats(0.0, 40.0)
plato = st.floats(-2.6, 40.0)
gravity = st.floats(0.9901, 1.178)
wort = st.floats(4.0, 30.0)
attenuation = st.floats(0.0, 1.05)


@given(gravity)
def test_plato_and_gravity_are_inverses(sg: float) -> None:
    assert extract.plato_to_sg(extract.sg_to_plato(sg)) == pytest.approx(sg, abs=1e-9)


@given(plato)
def test_gravity_and_plato_are_inverses(degrees: float) -> None:
    assert extract.sg_to_plato(extract.plato_to_sg(degrees)) == pytest.approx(degrees, abs=1e-9)


@given(st.floats(-3.0, 50.0), st.floats(0.0, 100.0))
def test_density_and_composition_are_inverses(mass_pct: float, t: float) -> None:
    assert extract.mass_pct_from_density(extract.sucrose_density(mass_pct, t), t) == pytest.approx(mass_pct, abs=1e-9)


@given(st.floats(0.99, 1.17))
def test_scales_of_60_and_68_fahrenheit_are_inverses(sg: float) -> None:
    there = extract.sg_between_scales(sg, 20.0, 15.56)
    assert extract.sg_between_scales(there, 15.56, 20.0) == pytest.approx(sg, abs=1e-9)


@given(st.floats(0.995, 1.15), celsius, st.sampled_from([15.56, 20.0]))
def test_a_hydrometer_corrected_reads_again_what_it_read(sg: float, t: float, calibration_c: float) -> None:
    reading = hydrometer.reading_sg(sg, t, calibration_c)
    assert hydrometer.correct_sg(reading, t, calibration_c) == pytest.approx(sg, abs=1e-9)


@given(st.floats(0.99, 1.15), st.sampled_from([15.56, 20.0]))
def test_at_its_own_temperature_a_hydrometer_needs_no_correction(sg: float, calibration_c: float) -> None:
    assert hydrometer.correct_sg(sg, calibration_c, calibration_c) == pytest.approx(sg, abs=1e-9)


@given(st.floats(-3.0, 50.0))
def test_brix_and_refractive_index_are_inverses(brix: float) -> None:
    assert refractometer.nd_to_brix(refractometer.brix_to_nd(brix)) == pytest.approx(brix, abs=1e-9)


@given(st.floats(0.0, 100.0))
def test_alcohol_by_mass_and_by_volume_are_inverses(abv_pct: float) -> None:
    assert ethanol_water.abw_to_abv(ethanol_water.abv_to_abw(abv_pct)) == pytest.approx(abv_pct, abs=1e-9)


@given(st.floats(0.0, 6.0), celsius)
def test_volumes_and_pressure_are_inverses(dissolved: float, t: float) -> None:
    pressure = solubility.pressure_bar_gauge(dissolved, t)
    if -0.5 <= pressure <= 12.0:
        assert solubility.volumes(pressure, t) == pytest.approx(dissolved, abs=1e-9)


@given(st.floats(-200.0, 850.0))
def test_platinum_is_an_inverse(t: float) -> None:
    assert sensors.pt_temperature_c(sensors.pt_resistance_ohm(t)) == pytest.approx(t, abs=1e-9)


@given(wort, attenuation)
def test_the_original_extract_is_found_again_from_alcohol_and_real_extract(oe: float, share: float) -> None:
    ae = oe * (1.0 - share)
    found = alcohol.original_extract(alcohol.abw(oe, ae), alcohol.real_extract(oe, ae))
    assert found == pytest.approx(oe, abs=1e-9)


@given(st.floats(4.0, 30.0), st.floats(0.98, 1.06))
def test_equal_refractometer_readings_give_the_original_gravity(brix: float, factor: float) -> None:
    oe = min(brix / factor, 29.9)
    found = refractometer.final_gravity(oe * factor, oe * factor, factor)
    assert found == pytest.approx(extract.plato_to_sg(oe), abs=1e-9)


@given(wort, attenuation)
def test_what_the_extract_loses_the_products_gain(oe: float, share: float) -> None:
    """Mass: 100 g of wort become beer, CO2 and yeast; the extract gone equals alcohol, CO2 and yeast by Balling."""
    ae = oe * (1.0 - share)
    alcohol_pct = alcohol.abw(oe, ae)
    beer_g = 100.0 / (1.0 + alcohol_pct / 100.0 * (alcohol.EXTRACT_PER_ETHANOL - 1.0))
    consumed_g = oe - beer_g * alcohol.real_extract(oe, ae) / 100.0
    ethanol_g = beer_g * alcohol_pct / 100.0
    yield_per_g = sum(alcohol.BALLING_YIELD_PER_100G_EXTRACT.values()) / 48.391
    assert ethanol_g * yield_per_g == pytest.approx(consumed_g, abs=2e-3 * oe)
    assert consumed_g == pytest.approx(alcohol.fermented_extract_pct(oe, ae), abs=2e-3 * oe)


@given(st.floats(1.03, 1.10), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_co2_of_two_falls_is_the_co2_of_both_together(og: float, first: float, second: float) -> None:
    end = 1.0 + 0.2 * (og - 1.0)
    middle = end + first * second * (og - end)
    start = end + second * (og - end)
    whole = carbonation.co2_from_gravity_drop_g_per_l(og, start, end)
    parts = carbonation.co2_from_gravity_drop_g_per_l(og, start, middle)
    parts += carbonation.co2_from_gravity_drop_g_per_l(og, middle, end)
    assert parts == pytest.approx(whole, rel=0.08, abs=1e-9)  # each counts litres of the beer that it ends in


RISING: dict[str, tuple[Callable[[float], float], float, float]] = {
    "°P of SG": (extract.sg_to_plato, 0.990, 1.17874),
    "SG of °P": (extract.plato_to_sg, -2.62, 40.01),
    "density of extract": (lambda w: extract.sucrose_density(w, 20.0), -3.0, 85.0),
    "corrected SG of temperature": (lambda t: hydrometer.correct_sg(1.040, t), 8.0, 40.0),
    "corrected SG of reading": (lambda r: hydrometer.correct_sg(r, 4.0), 0.992, 1.17),
    "index of Brix": (refractometer.brix_to_nd, -3.0, 50.0),
    "Brix to add of temperature": (lambda t: refractometer.temperature_correction_brix(12.0, t), 8.0, 40.0),
    "final gravity of Brix": (lambda b: refractometer.final_gravity(15.0, b), 5.0, 15.1),
    "% vol of % mass": (ethanol_water.abw_to_abv, 0.0, 100.0),
    "vapour pressure": (solubility.water_vapour_bar, 0.0, 100.0),
    "pressure of volumes": (lambda v: solubility.pressure_bar_gauge(v, 20.0), 0.0, 6.0),
    "pressure of temperature": (lambda t: solubility.pressure_bar_gauge(2.5, t), 0.0, 40.0),
    "air of temperature": (lambda t: carbonation.trapped_air_bar(0.04, t), 0.0, 40.0),
    "alcohol of OG": (lambda og: alcohol.abv_from_gravity(og, 1.010), 1.010, 1.15),
    "platinum": (sensors.pt_resistance_ohm, -200.0, 850.0),
    "beta": (lambda r: -sensors.ntc_beta_temperature_c(r), 2000.0, 5e4),
    "power": (lambda r: heat.power_w(20.0, 12.0, r), 0.0, 15.0),
}


@pytest.mark.parametrize("name", RISING)
def test_it_rises_without_a_jump_over_its_whole_domain(name: str) -> None:
    function, low, high = RISING[name]
    steps = np.diff([function(float(x)) for x in np.linspace(low, high, 2001)])
    assert (steps > 0.0).all()
    assert steps.max() < 30.0 * np.median(steps)


@given(st.floats(0.0, 40.0))
def test_residual_co2_falls_as_the_beer_has_been_warmer(t: float) -> None:
    assert carbonation.residual_volumes(min(40.0, t + 0.5)) <= carbonation.residual_volumes(t)


ELEMENTWISE: dict[str, tuple[Callable[..., object], tuple[tuple[float, float], ...]]] = {
    "sg_to_plato": (extract.sg_to_plato, ((0.99, 1.17),)),
    "plato_to_sg": (extract.plato_to_sg, ((-2.6, 40.0),)),
    "sucrose_density": (extract.sucrose_density, ((0.0, 60.0), (0.0, 90.0))),
    "correct_sg": (hydrometer.correct_sg, ((0.992, 1.15), (0.0, 40.0))),
    "correct_to_sg_20": (hydrometer.correct_to_sg_20, ((0.992, 1.15), (0.0, 40.0))),
    "nd_to_brix": (refractometer.nd_to_brix, ((1.333, 1.42),)),
    "temperature_correction_brix": (refractometer.temperature_correction_brix, ((0.0, 30.0), (5.0, 40.0))),
    "final_gravity": (refractometer.final_gravity, ((12.0, 20.0), (6.0, 12.0))),
    "abv": (alcohol.abv, ((10.0, 25.0), (-1.0, 10.0))),
    "energy": (alcohol.energy_kcal_per_100_ml, ((10.0, 25.0), (-1.0, 10.0))),
    "real_attenuation": (alcohol.real_attenuation, ((10.0, 25.0), (-1.0, 10.0))),
    "ethanol density": (ethanol_water.density, ((0.0, 100.0), (-20.0, 40.0))),
    "abv_to_abw": (ethanol_water.abv_to_abw, ((0.0, 100.0),)),
    "volumes": (solubility.volumes, ((-0.1, 10.0), (0.0, 40.0))),
    "pressure": (solubility.pressure_bar_gauge, ((0.0, 6.0), (0.0, 40.0))),
    "residual": (carbonation.residual_volumes, ((0.0, 40.0),)),
    "priming": (carbonation.priming_sugar_g_per_l, ((1.7, 4.0), (0.0, 40.0))),
    "gravity drop": (carbonation.co2_from_gravity_drop_g_per_l, ((1.05, 1.1), (1.02, 1.05), (1.0, 1.02))),
    "trapped air": (carbonation.trapped_air_bar, ((0.02, 0.3), (0.0, 40.0))),
    "adiabatic rise": (heat.adiabatic_rise_k, ((10.0, 25.0), (-1.0, 10.0))),
    "power": (heat.power_w, ((1.0, 50.0), (5.0, 20.0), (0.0, 5.0))),
    "pt": (sensors.pt_temperature_c, ((20.0, 300.0),)),
    "beta": (sensors.ntc_beta_temperature_c, ((1e3, 1e5),)),
}


@pytest.mark.parametrize("name", ELEMENTWISE)
def test_an_array_goes_the_same_way_as_each_of_its_floats(name: str) -> None:
    function, ranges = ELEMENTWISE[name]
    arrays = [np.linspace(low, high, 23) for low, high in ranges]
    together = function(*arrays)
    assert isinstance(together, np.ndarray)
    assert together.shape == (23,)
    singly = [function(*(float(a[i]) for a in arrays)) for i in range(23)]
    assert all(type(value) is float for value in singly)
    np.testing.assert_allclose(together, np.asarray(singly, dtype=float), rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize("name", ELEMENTWISE)
def test_one_bad_element_refuses_the_array_and_a_nan_is_never_inside(name: str) -> None:
    function, ranges = ELEMENTWISE[name]
    for position in range(len(ranges)):
        arrays = [np.linspace(low, high, 5) for low, high in ranges]
        arrays[position][2] = np.nan
        with pytest.raises(OutOfDomain):
            function(*arrays)
        floats = [float(a[0]) for a in arrays]
        floats[position] = 1e9
        with pytest.raises(OutOfDomain):
            function(*floats)
