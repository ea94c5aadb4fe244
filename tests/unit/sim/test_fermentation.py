"""The simulated beer: its balances against the published figures, and how it answers to warm and cold."""

import pytest

from fermwatch.model.yeast import Yeast
from fermwatch.science.alcohol import abv
from fermwatch.science.extract import sg_to_plato
from fermwatch_sim.fermentation import Brew, Fermentation, Strain, roused

STEP_S = 300.0
ALE = Yeast("clean-ale", "clean ale", 17.0, 22.0, 0.73, 0.81)
STRAIN = Strain.of(ALE, attenuation=0.77, vigour=0.0022, lag_h=9.0)
WORT = Fermentation.of(1.050, 20.0, STRAIN)


def ferment(hours: float, temperature_c: float, brew: Brew | None = None) -> Brew:
    brew = brew or WORT.begin()
    for _ in range(int(hours * 3600.0 / STEP_S)):
        brew = WORT.step(brew, temperature_c, STEP_S)
    return brew


def hours_to(attenuation: float, temperature_c: float) -> float:
    brew, hours = WORT.begin(), 0.0
    while WORT.attenuation(brew) < attenuation:
        brew, hours = WORT.step(brew, temperature_c, STEP_S), hours + STEP_S / 3600.0
        assert hours < 2000.0, "it never gets there"
    return hours


def test_begins_at_its_original_gravity_without_alcohol() -> None:
    brew = WORT.begin()
    assert WORT.gravity_sg(brew) == pytest.approx(1.050, abs=1e-9)
    assert WORT.abv_pct(brew) == pytest.approx(0.0, abs=1e-9)


def test_ends_at_the_strains_attenuation() -> None:
    brew = ferment(20 * 24, 20.0)
    assert WORT.attenuation(brew) == pytest.approx(0.77, abs=0.003)


def test_alcohol_agrees_with_ballings_formula_all_the_way_down() -> None:
    """The convention of Nielsen et al. (Brauwelt International, 2007), reckoned elsewhere from gravities alone."""
    brew = WORT.begin()
    for _ in range(8):
        brew = ferment(18, 20.0, brew)
        expected = abv(sg_to_plato(1.050), sg_to_plato(WORT.gravity_sg(brew)))
        assert WORT.abv_pct(brew) == pytest.approx(expected, abs=1e-6)


def test_heat_given_off_is_586_kj_per_kg_of_extract() -> None:
    brew, heat_j = WORT.begin(), 0.0
    for _ in range(1500):
        brew = WORT.step(brew, 20.0, STEP_S)
        heat_j += WORT.heat_w(brew) * STEP_S
    assert heat_j == pytest.approx(586e3 * WORT.mass_kg * WORT.fermented(brew), rel=1e-9)


def test_a_whole_ferment_gives_off_the_gas_that_brewers_reckon_with() -> None:
    """20 L at 12 °P: about 0.75 kg (common practice)."""
    wort = Fermentation.of(1.0484, 20.0, STRAIN)
    brew = wort.begin()
    for _ in range(5000):
        brew = wort.step(brew, 20.0, STEP_S)
    assert 700.0 < wort.co2_g(brew) < 850.0


def test_one_point_an_hour_in_20_litres_is_about_7_watts() -> None:
    """Follows from 586 kJ/kg: one point is 0.21 % of real extract, 42 g in 20 L, 25 kJ."""
    brew = ferment(50, 20.0)
    later = WORT.step(brew, 20.0, STEP_S)
    points_per_h = (WORT.gravity_sg(brew) - WORT.gravity_sg(later)) * 1000.0 * 3600.0 / STEP_S
    assert WORT.heat_w(later) / points_per_h == pytest.approx(7.0, rel=0.05)


def test_falls_as_fast_as_a_healthy_ale_does() -> None:
    """10 to 20 points a day at most (common practice)."""
    brew, fastest = WORT.begin(), 0.0
    for _ in range(2000):
        later = WORT.step(brew, 20.0, STEP_S)
        fastest = max(fastest, (WORT.gravity_sg(brew) - WORT.gravity_sg(later)) * 1000.0 * 86400.0 / STEP_S)
        brew = later
    assert 10.0 < fastest < 25.0


def test_lag_shows_almost_nothing() -> None:
    assert WORT.gravity_sg(ferment(6, 20.0)) > 1.0495


def test_warmer_is_faster_by_the_factor_brewers_expect() -> None:
    """Ten kelvin double or treble it (common practice)."""
    slow, fast = hours_to(0.5, 17.5), hours_to(0.5, 27.5)
    assert 1.8 < slow / fast < 5.0


def test_stops_outside_the_cardinal_temperatures() -> None:
    brew = ferment(60, 20.0)
    for temperature_c in (3.0, 39.0):
        assert WORT.step(brew, temperature_c, STEP_S).fermenting == pytest.approx(0.0, abs=1e-15)


def test_chilled_yeast_drops_and_the_beer_stays_stalled_though_it_could_ferment() -> None:
    brew = ferment(50, 20.0)
    chilled = ferment(48, 13.0, brew)
    back = ferment(36, 18.0, chilled)
    assert chilled.suspended < 0.01
    assert WORT.attenuation(chilled) < 0.7
    assert WORT.gravity_sg(chilled) - WORT.gravity_sg(back) < 0.001


def test_rousing_and_warmth_bring_it_back() -> None:
    stalled = ferment(48, 13.0, ferment(60, 20.0))
    assert WORT.attenuation(ferment(72, 21.0, roused(stalled))) > 0.74


def test_warmth_alone_brings_it_back_slowly() -> None:
    stalled = ferment(48, 13.0, ferment(60, 20.0))
    warmed = ferment(24, 22.0, stalled)
    assert WORT.gravity_sg(ferment(24, 21.0, roused(stalled))) < WORT.gravity_sg(warmed) < WORT.gravity_sg(stalled)


def test_a_lager_yeast_works_where_an_ale_yeast_barely_does() -> None:
    lager = Strain.of(
        Yeast("lager", "lager", 8.0, 14.0, 0.70, 0.80, bottom_fermenting=True),
        attenuation=None,
        vigour=0.0022,
        lag_h=20.0,
    )
    assert lager.attenuation == pytest.approx(0.75)
    assert lager.pace(9.0) > 1.5 * STRAIN.pace(9.0)


def test_the_cardinal_model_is_one_at_its_reference_and_highest_at_its_optimum() -> None:
    """By its definition (Rosso, Lobry and Flandrois 1993): 0 at both ends, its maximum at the optimum."""
    assert STRAIN.pace(20.0) == pytest.approx(1.0)
    assert STRAIN.pace(STRAIN.optimum_c) > max(STRAIN.pace(29.0), STRAIN.pace(31.0))
    assert STRAIN.pace(STRAIN.minimum_c) == STRAIN.pace(STRAIN.maximum_c) == pytest.approx(0.0)


def test_a_strong_wort_ends_higher_where_alcohol_stops_the_yeast() -> None:
    weak_yeast = Yeast("clean-ale", "clean ale", 17.0, 22.0, 0.73, 0.81, alcohol_tolerance_abv=6.0)
    wort = Fermentation.of(1.090, 20.0, Strain.of(weak_yeast, attenuation=0.77, vigour=0.0022, lag_h=9.0))
    brew = wort.begin()
    for _ in range(6000):
        brew = wort.step(brew, 20.0, STEP_S)
    assert wort.abw_pct(brew) < 4.9
