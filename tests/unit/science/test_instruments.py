"""Hydrometer and refractometer: published corrections, uncertainties, and refusals that name the range."""

import pytest

from fermwatch.errors import OutOfDomain
from fermwatch.science import alcohol, extract, hydrometer, refractometer


@pytest.mark.parametrize(
    ("celsius", "points"),
    [
        (0.0, (-1.14, -2.28, -4.48)),
        (10.0, (-1.25, -1.75, -2.73)),
        (30.0, (2.32, 2.75, 3.50)),
        (40.0, (5.54, 6.33, 7.67)),
    ],
)
def test_points_to_add_to_a_stem_of_20_degrees(celsius: float, points: tuple[float, float, float]) -> None:
    """IAPWS-95 and ICUMSA at readings of 1.000, 1.040 and 1.120, computed outside; 1.000 as if it were all water."""
    for reading, expected in zip((1.000, 1.040, 1.120), points, strict=True):
        added = 1000.0 * (hydrometer.correct_sg(reading, celsius) - reading)
        assert added == pytest.approx(expected, abs=0.08 if reading == 1.0 else 0.02)


def test_water_alone_would_be_wrong_by_a_point_and_a_third_in_ice_cold_wort() -> None:
    off = hydrometer.correct_sg_water_only(1.050, 0.0) - hydrometer.correct_sg(1.050, 0.0)
    assert off == pytest.approx(137e-5, abs=3e-5)


@pytest.mark.parametrize(("plato", "old_scale", "scale_20"), [(10.0, 1.04017, 1.03998), (20.0, 1.08330, 1.08292)])
def test_the_scale_of_60_fahrenheit_is_told_apart(plato: float, old_scale: float, scale_20: float) -> None:
    assert extract.relative_density(plato, 15.56, 15.56) == pytest.approx(old_scale, abs=2e-5)
    assert extract.sg_between_scales(old_scale, 15.56, 20.0) == pytest.approx(scale_20, abs=3e-5)


def test_both_scales_give_the_same_gravity_of_the_same_wort() -> None:
    read_20 = hydrometer.reading_sg(extract.relative_density(12.0, 20.0), 25.0)
    read_old = hydrometer.reading_sg(extract.relative_density(12.0, 15.56, 15.56), 25.0, 15.56)
    assert read_old - read_20 < -0.0005
    assert hydrometer.correct_to_sg_20(read_old, 25.0, 15.56) == pytest.approx(
        hydrometer.correct_to_sg_20(read_20, 25.0), abs=1e-9
    )


def test_uncertainty_grows_away_from_room_temperature() -> None:
    assert hydrometer.uncertainty_sg(1.012, 20.0) == pytest.approx(0.0005, abs=0.0001)
    assert hydrometer.uncertainty_sg(1.012, 40.0) > hydrometer.uncertainty_sg(1.012, 20.0)
    assert hydrometer.uncertainty_sg(1.012, 2.0) > hydrometer.uncertainty_sg(1.012, 2.0, fermented=False)


def test_a_hot_sample_is_refused_with_the_remedy() -> None:
    with pytest.raises(OutOfDomain, match=r"55 °C is outside 0 to 40 °C\. Cool the sample"):
        hydrometer.correct_sg(1.050, 55.0)


@pytest.mark.parametrize("oe", [10.0, 16.0, 20.0, 25.0])
def test_the_cubic_regression_is_far_off_at_the_start_and_the_model_is_not(oe: float) -> None:
    """Terrill says himself that his regressions fail below 61 % attenuation."""
    original_sg = extract.plato_to_sg(oe)
    assert refractometer.final_gravity(oe * 1.04, oe * 1.04) == pytest.approx(original_sg, abs=1e-9)
    assert abs(refractometer.fg_cubic_regression(oe, oe) - original_sg) > 0.010


def test_late_in_the_ferment_model_and_customary_cubic_lie_within_three_points() -> None:
    model = refractometer.final_gravity(12.48, 6.12)
    assert refractometer.fg_customary_cubic(12.0, 6.12 / 1.04) == pytest.approx(model, abs=0.003)


def test_a_tenth_of_a_degree_brix_is_about_half_a_point_late_on() -> None:
    slope = refractometer.final_gravity(12.48, 6.2) - refractometer.final_gravity(12.48, 6.1)
    assert slope == pytest.approx(0.0006, abs=0.0001)
    assert refractometer.final_gravity_uncertainty(12.48, 6.1) == pytest.approx(0.0021, abs=0.0001)


def test_an_original_extract_by_refractometer_is_uncertain_by_its_factor() -> None:
    assert refractometer.original_extract(12.48) == pytest.approx(12.0)
    assert refractometer.original_extract_uncertainty(12.48) == pytest.approx(0.26, abs=0.01)


def test_a_temperature_correction_is_uncertain_more_where_it_is_large_and_unchecked() -> None:
    near = refractometer.temperature_correction_uncertainty_brix(12.0, 20.0)
    far = refractometer.temperature_correction_uncertainty_brix(12.0, 38.0)
    assert near == pytest.approx(0.05, abs=0.02)
    assert far > near


def test_swapped_refractometer_readings_are_refused() -> None:
    with pytest.raises(OutOfDomain, match="swapped"):
        refractometer.final_gravity(6.0, 12.0)


def test_swapped_gravities_are_refused() -> None:
    with pytest.raises(OutOfDomain, match="swapped"):
        alcohol.abv_from_gravity(1.010, 1.048)


def test_a_gravity_typed_without_its_point_is_refused_with_what_was_meant() -> None:
    with pytest.raises(OutOfDomain, match=r"Did you mean 1\.048\?"):
        extract.sg_to_plato(1048.0)


def test_alcohol_is_uncertain_by_its_readings_and_its_convention() -> None:
    assert alcohol.abv_uncertainty(1.048, 1.010) == pytest.approx(0.106, abs=0.005)
    strong = alcohol.abv_uncertainty(1.150, 1.030)
    assert strong > 2.0 * alcohol.abv_uncertainty(1.120, 1.030)


def test_food_energy_is_near_that_of_the_labelling_regulation() -> None:
    """Regulation (EU) 1169/2011, annex XIV: 7 kcal/g ethanol, 4 kcal/g carbohydrate."""
    oe, ae = 12.0, 2.5
    by_law = (7.0 * alcohol.abw(oe, ae) + 4.0 * alcohol.real_extract(oe, ae)) * extract.plato_to_sg(ae)
    assert alcohol.energy_kcal_per_100_ml(oe, ae) == pytest.approx(by_law, rel=0.04)
