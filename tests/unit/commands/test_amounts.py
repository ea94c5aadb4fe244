"""Amounts as typed: each unit, each bare number, and each slip."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.commands import amounts
from fermwatch.errors import InputError
from fermwatch.saying.voice import Gallon

WHAT = "--this"


@pytest.mark.parametrize(
    ("typed", "celsius"),
    [("19", 19.0), ("19C", 19.0), ("19 °C", 19.0), ("66.2F", 19.0), ("292.15K", 19.0), ("+4", 4.0)],
)
def test_a_temperature_is_read_in_any_unit(typed: str, celsius: float) -> None:
    assert amounts.temperature_c(typed, what=WHAT) == pytest.approx(celsius)


def test_a_bare_temperature_is_fahrenheit_for_us_brewers() -> None:
    assert amounts.temperature_c("68", what=WHAT, us=True) == pytest.approx(20.0)


@pytest.mark.parametrize("typed", ["18-21", "18 - 21C", "18C-21C", "18..21", "18 to 21", "64.4-69.8F", "64.4F-69.8F"])
def test_a_range_takes_the_unit_of_its_end(typed: str) -> None:
    assert amounts.temperature_range_c(typed, what=WHAT) == pytest.approx((18.0, 21.0))


@pytest.mark.parametrize(
    ("typed", "sg"), [("1.048", 1.048), ("1.048SG", 1.048), ("48points", 1.048), ("12P", 1.0484), ("12 °Bx", 1.0484)]
)
def test_a_gravity_is_read_in_any_unit(typed: str, sg: float) -> None:
    assert amounts.gravity_sg(typed, what=WHAT) == pytest.approx(sg, abs=0.0001)


@pytest.mark.parametrize(
    ("typed", "litres"),
    [("19", 19.0), ("19L", 19.0), ("500 ml", 0.5), ("0.2hL", 20.0), ("5gal-US", 18.927), ("5 US gal", 18.927),
     ("5gal-imp", 22.730), ("5gal US", 18.927)],
)  # fmt: skip
def test_a_volume_is_read_in_any_unit(typed: str, litres: float) -> None:
    assert amounts.volume_l(typed, what=WHAT) == pytest.approx(litres, abs=0.001)


@pytest.mark.parametrize("typed", ["5gal", "5 gallons", "5GAL"])
def test_a_gallon_is_never_guessed(typed: str) -> None:
    with pytest.raises(InputError, match="which gallon"):
        amounts.volume_l(typed, what=WHAT)


@pytest.mark.parametrize("typed", ["5", "5gal", "5 gallons"])
@pytest.mark.parametrize(("gallon", "litres"), [(Gallon.US, 18.927), (Gallon.IMPERIAL, 22.730)])
def test_a_gallon_that_was_chosen_once_is_asked_about_no_more(typed: str, gallon: Gallon, litres: float) -> None:
    assert amounts.volume_l(typed, what=WHAT, gallon=gallon) == pytest.approx(litres, abs=0.001)
    assert amounts.volume_l("19L", what=WHAT, gallon=gallon) == 19.0


@pytest.mark.parametrize(("typed", "grams"), [("60", 60.0), ("1.2kg", 1200.0), ("2oz", 56.699), ("1 lb", 453.592)])
def test_a_mass_is_read_in_any_unit(typed: str, grams: float) -> None:
    assert amounts.mass_g(typed, what=WHAT) == pytest.approx(grams, abs=0.001)


@pytest.mark.parametrize(("typed", "dose"), [("6.2", 6.2), ("6.2g/L", 6.2), ("1oz/gal-US", 7.489)])
def test_a_dose_is_read_per_litre_or_gallon(typed: str, dose: float) -> None:
    assert amounts.grams_per_litre(typed, what=WHAT) == pytest.approx(dose, abs=0.001)


@pytest.mark.parametrize(("typed", "bar"), [("0.8", 0.8), ("0.8bar", 0.8), ("80kPa", 0.8), ("11.603psi", 0.8)])
def test_a_pressure_is_read_in_any_unit(typed: str, bar: float) -> None:
    assert amounts.pressure_bar(typed, what=WHAT) == pytest.approx(bar, abs=1e-4)


@pytest.mark.parametrize(("typed", "hours"), [("30h", 30.0), ("2d", 48.0), ("90min", 1.5), ("30", 30.0)])
def test_a_time_span_is_read_in_any_unit(typed: str, hours: float) -> None:
    assert amounts.hours(typed, what=WHAT) == pytest.approx(hours)


def test_attenuation_is_a_range_in_percent() -> None:
    assert amounts.attenuation("74-79%", what=WHAT) == pytest.approx((0.74, 0.79))


def test_an_adjunct_is_a_name_and_a_dose() -> None:
    assert amounts.named_amount("Lactose=25g/L", what=WHAT) == ("lactose", 25.0)


@pytest.mark.parametrize(
    ("read", "typed", "told"),
    [
        (amounts.temperature_c, "66", "If you meant °F, that is 18.9 °C"),
        (amounts.temperature_c, "293", "looks like kelvin"),
        (amounts.temperature_c, "warm", "'warm' is not a number"),
        (amounts.temperature_c, "", "nothing was given"),
        (amounts.temperature_c, "19,5C", "did you mean 19.5C"),
        (amounts.temperature_c, "nan", "is not a number"),
        (amounts.temperature_c, "19L", "is no temperature"),
        (amounts.gravity_sg, "1048", "Did you mean 1.048?"),
        (amounts.gravity_sg, "-1.048", "Did you mean 1.048?"),
        (amounts.gravity_sg, "12.4", "looks like °Plato or °Brix"),
        (amounts.gravity_sg, "1.048?", "is not a number"),
        (amounts.gravity_sg, "99P", "outside"),
        (amounts.brix, "1.048", "looks like a specific gravity"),
        (amounts.brix, "-0.2", "is the instrument's zero off"),
        (amounts.volume_l, "0", "is outside"),
        (amounts.volume_l, "19kg", "has no unit known here"),
        (amounts.grams_per_litre, "20g", "lacks its litre"),
        (amounts.grams_per_litre, "1oz/gal", "which gallon"),
        (amounts.pressure_bar, "-1", "is outside 0 to 12 bar"),
        (amounts.volumes_co2, "5g/L", "in volumes that is 2.53"),
        (amounts.attenuation, "0.74-0.79", "did you mean 74"),
        (amounts.attenuation, "79-74", "swapped"),
        (amounts.temperature_range_c, "18", "is no range"),
        (amounts.named_amount, "sucrose", "is no name and amount"),
    ],
)
def test_a_slip_names_its_place_and_what_was_meant(read: object, typed: str, told: str) -> None:
    with pytest.raises(InputError) as raised:
        read(typed, what=WHAT)  # type: ignore[operator]
    assert raised.value.message.startswith(WHAT)
    assert told in raised.value.message


@given(st.text(max_size=40))
def test_whatever_is_typed_is_read_or_refused_in_words(typed: str) -> None:
    readers = (amounts.temperature_c, amounts.gravity_sg, amounts.volume_l, amounts.mass_g, amounts.hours, amounts.brix)
    for read in readers:
        try:
            assert isinstance(read(typed, what=WHAT), float)
        except InputError as error:
            assert error.message.startswith(WHAT)  # noqa: PT017 - both ends of the choice are asserted


@given(st.floats(0.0, 40.0))
def test_celsius_said_in_fahrenheit_is_read_back(celsius: float) -> None:
    said = amounts.celsius_said(celsius, us=True, places=6).replace(" ", "")
    assert amounts.temperature_c(said, what=WHAT, low_c=-1.0, high_c=41.0) == pytest.approx(celsius, abs=1e-5)
