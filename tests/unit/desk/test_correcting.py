"""Values in, values out: what an instrument reads is corrected the same for whoever stands before the desk."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.desk.correcting import Sample, beer_by_refractometer, by_hydrometer, wort_by_refractometer
from fermwatch.errors import InputError
from fermwatch.science.extract import OLD_REFERENCE_C, plato_to_sg


@given(st.floats(1.000, 1.120), st.floats(5.0, 35.0))
def test_a_warm_sample_reads_too_low_and_a_cold_one_too_high(read_sg: float, celsius: float) -> None:
    corrected = by_hydrometer(read_sg, Sample(celsius))
    assert (corrected.gravity_sg >= read_sg - 1e-9) == (celsius >= 20.0) or abs(corrected.gravity_sg - read_sg) < 1e-4


@given(st.floats(1.000, 1.120), st.floats(-0.004, 0.004))
def test_what_it_reads_too_much_in_water_is_taken_off(read_sg: float, offset_sg: float) -> None:
    plain, checked = by_hydrometer(read_sg, Sample(20.0)), by_hydrometer(
        read_sg + offset_sg, Sample(20.0, water_check_sg=1.0 + offset_sg)
    )  # fmt: skip
    assert checked.gravity_sg == pytest.approx(plain.gravity_sg, abs=2e-5)


def test_a_stem_that_is_far_off_in_water_is_refused() -> None:
    with pytest.raises(InputError, match="no hydrometer is to be trusted so"):
        by_hydrometer(1.012, Sample(20.0, water_check_sg=1.015))


def test_gas_and_an_unknown_temperature_make_it_less_sure_and_say_so() -> None:
    sure = by_hydrometer(1.012, Sample(20.0))
    gassy, unmeasured = by_hydrometer(1.012, Sample(20.0, degassed=False)), by_hydrometer(1.012, Sample())
    assert sure.cautions == ()
    assert gassy.sd_points > sure.sd_points
    assert unmeasured.sd_points > sure.sd_points
    assert gassy.cautions[0].startswith("Not degassed")
    assert unmeasured.cautions[0].startswith("No --sample temperature")
    assert by_hydrometer(1.050, Sample(20.0, degassed=False), fermented=False).cautions == (), "wort holds no gas"


def test_an_old_scale_reads_another_number_for_the_same_beer() -> None:
    old = by_hydrometer(1.050, Sample(OLD_REFERENCE_C, scale_c=OLD_REFERENCE_C))
    assert 0.0 < abs(old.gravity_sg - 1.050) < 0.0005
    assert "scale of" in old.steps[1]
    in_plato = by_hydrometer(plato_to_sg(12.0), Sample(20.0), unit="°P")
    assert in_plato.reading == pytest.approx(12.0, abs=1e-6)


def test_beer_by_a_refractometer_needs_to_know_the_wort() -> None:
    with pytest.raises(InputError, match="What did the wort read"):
        beer_by_refractometer(6.2, Sample(), original_brix=None, original_sg=None)
    wort = wort_by_refractometer(12.4, Sample())
    said = beer_by_refractometer(6.2, Sample(), original_brix=12.4, original_sg=None)
    reckoned = beer_by_refractometer(6.2, Sample(), original_brix=None, original_sg=wort.gravity_sg)
    assert reckoned.gravity_sg == pytest.approx(said.gravity_sg, abs=1e-4)
    assert "reckoned from" in reckoned.steps[-1]
    assert said.gravity_sg < wort.gravity_sg
