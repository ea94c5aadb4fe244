"""Whatever wort, yeast and weather: the simulated beer keeps the balances of mass and heat."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fermwatch.model.yeast import Yeast
from fermwatch_sim.fermentation import Fermentation, Strain

STEP_S = 600.0

worts = st.builds(
    lambda original_sg, volume_l, attenuation, lager, lag_h: Fermentation.of(
        original_sg,
        volume_l,
        Strain.of(
            Yeast("any", "any", 8.0 if lager else 17.0, 22.0, 0.7, 0.8, bottom_fermenting=lager),
            attenuation=attenuation,
            vigour=0.0025,
            lag_h=lag_h,
        ),
    ),
    original_sg=st.floats(1.025, 1.110),
    volume_l=st.floats(1.0, 60.0),
    attenuation=st.floats(0.3, 0.95),
    lager=st.booleans(),
    lag_h=st.floats(0.0, 40.0),
)
weather = st.lists(st.floats(-5.0, 45.0), min_size=1, max_size=12)


@settings(max_examples=60, deadline=None)
@given(wort=worts, days=weather)
def test_gravity_never_rises_and_never_passes_the_strains_limit(wort: Fermentation, days: list[float]) -> None:
    brews = [wort.begin()]
    for temperature_c in days:
        for _ in range(24):
            brews.append(wort.step(brews[-1], temperature_c, STEP_S))
    gravities = [wort.gravity_sg(brew) for brew in brews]
    assert all(after <= before + 1e-12 for before, after in pairwise(gravities))
    assert wort.attenuation(brews[-1]) <= wort.strain.attenuation + 1e-6
    assert all(0.0 <= brew.suspended <= 1.0 and brew.yeast <= 1.0 for brew in brews)


@settings(max_examples=60, deadline=None)
@given(wort=worts, days=weather, step_s=st.floats(1.0, 1800.0))
def test_mass_and_heat_balance(wort: Fermentation, days: list[float], step_s: float) -> None:
    """Balling: extract gone is alcohol, gas and yeast, 1 : 0.9565 : 0.11 of 2.0665; and gives 586 kJ/kg."""
    brew, heat_j, gas_g = wort.begin(), 0.0, 0.0
    for temperature_c in days:
        for _ in range(10):
            brew = wort.step(brew, temperature_c, step_s)
            heat_j += wort.heat_w(brew) * step_s
            gas_g += wort.co2_g_per_h(brew) * step_s / 3600.0
    gone_kg = wort.mass_kg * wort.fermented(brew)
    beer_kg = wort.mass_kg - gone_kg * (0.9565 + 0.11) / 2.0665
    assert heat_j == pytest.approx(586e3 * gone_kg, rel=1e-6, abs=1e-3)
    assert gas_g == pytest.approx(1000.0 * gone_kg * 0.9565 / 2.0665, rel=1e-6, abs=1e-6)
    assert wort.co2_g(brew) == pytest.approx(gas_g, rel=1e-6, abs=1e-6)
    assert beer_kg * wort.abw_pct(brew) / 100.0 == pytest.approx(gone_kg / 2.0665, rel=1e-9, abs=1e-9)
    extract_kg = wort.mass_kg * wort.original_plato / 100.0 - gone_kg
    assert beer_kg * wort.real_extract_pct(brew) / 100.0 == pytest.approx(extract_kg, rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(wort=worts, cool_c=st.floats(17.5, 26.0), by_k=st.floats(0.1, 3.0))
def test_warmer_is_never_slower_up_to_the_optimum(wort: Fermentation, cool_c: float, by_k: float) -> None:
    warm_c = min(cool_c + by_k, wort.strain.optimum_c)
    cool_c = min(cool_c, warm_c)
    cool, warm = wort.begin(), wort.begin()
    for _ in range(300):
        cool, warm = wort.step(cool, cool_c, STEP_S), wort.step(warm, warm_c, STEP_S)
    assert wort.gravity_sg(warm) <= wort.gravity_sg(cool) + 1e-12


@settings(max_examples=40, deadline=None)
@given(wort=worts)
def test_a_shorter_step_tells_the_same_story(wort: Fermentation) -> None:
    coarse, fine = wort.begin(), wort.begin()
    for _ in range(60 * 12):
        coarse = wort.step(coarse, 20.0, 300.0)
        for _ in range(2):
            fine = wort.step(fine, 20.0, 150.0)
    assert wort.gravity_sg(coarse) == pytest.approx(wort.gravity_sg(fine), abs=0.0008)
