"""What a number that a device says is taken for, and why."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.listening.recognising import recognise
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.units import units_of

BEER, AIR, SET, GRAVITY = Quantity.BEER_TEMPERATURE, Quantity.AIR_TEMPERATURE, Quantity.SET_POINT, Quantity.GRAVITY
C, F, K = Unit.CELSIUS, Unit.FAHRENHEIT, Unit.KELVIN


@pytest.mark.parametrize(
    ("name", "values", "quantity", "unit", "sure"),
    [
        ("t1", (19.4, 19.5), BEER, C, True),
        ("temperature", (66.2,), BEER, F, True),
        ("beerTempF", (38.0,), BEER, F, True),
        ("temp_k", (292.6,), BEER, K, True),
        ("cellar/left/float/temp", (292.6,), BEER, K, True),
        ("air", (12.5,), AIR, C, True),
        ("/fridge/temp", (4.0,), AIR, C, True),
        ("set-point", (18.0,), SET, C, True),
        ("target_temp", (18.0,), SET, C, True),
        ("cellar/left/float#/gravity", (1.048, 1.047), GRAVITY, Unit.SG, True),
        ("sg", (12.1,), GRAVITY, Unit.PLATO, False),
        ("plato", (12.1,), GRAVITY, Unit.PLATO, True),
        ("gravity", (48.0,), GRAVITY, Unit.POINTS, True),
        ("3", (1.0483, 1.0481), GRAVITY, Unit.SG, True),
        ("", (19.44,), BEER, C, False),
        ("heater", (0.0, 1.0), Quantity.OUTPUT, Unit.SWITCH, False),
        ("door", (0.0,), Quantity.CONTACT, Unit.SWITCH, False),
        ("pressure_psi", (12.0,), Quantity.PRESSURE, Unit.PSI, True),
    ],
)
def test_by_its_name_and_values(
    name: str, values: tuple[float, ...], quantity: Quantity, unit: Unit, sure: bool
) -> None:
    found = recognise(name, values, None, None).likely[0]
    assert (found.quantity, found.unit, found.sure) == (quantity, unit, sure), found
    assert found.why


def test_a_number_that_two_units_could_mean_is_not_decided() -> None:
    cold = recognise("temp", (30.0,), None, None).likely
    assert [one.unit for one in cold] == [C, F]
    warm = recognise("temp", (40.0,), None, None).likely
    assert [one.unit for one in warm] == [F, C]
    assert not any(one.sure for one in (*cold, *warm))


def test_a_unit_that_was_said_goes_before_all_guesses() -> None:
    assert recognise("t", (20.0,), F, None).likely[0].unit is F
    assert "unusual" in recognise("t", (20.0,), F, None).likely[0].why
    assert recognise("temp", (40.0,), None, C).likely[0].unit is C
    assert recognise("humidity", (55.0,), Unit.PERCENT, None).likely == ()


def test_whether_it_is_the_beers_or_the_airs_is_known_by_name_alone() -> None:
    assert recognise("temp", (19.0,), None, None).likely[0].where_unsure
    assert not recognise("beer temp", (19.0,), None, None).likely[0].where_unsure
    assert not recognise("air temp", (19.0,), None, None).likely[0].where_unsure


@pytest.mark.parametrize(
    ("name", "value", "remark"),
    [
        ("gravity", 1048.0, "without its decimal point"),
        ("temp", 195.0, "in tenths"),
        ("battery", 3.9, "of itself"),
        ("left/rssi", -61.0, "of itself"),
        ("4", 1234.0, "whole numbers"),
        ("t1", 85.0, "no thermometer is connected"),
        ("x", 5120.5, "nothing that fermwatch knows"),
    ],
)
def test_what_is_none_says_what_it_looks_like(name: str, value: float, remark: str) -> None:
    found = recognise(name, (value,), None, None)
    assert found.likely == ()
    assert remark in found.remark


@given(
    name=st.text(max_size=60),
    values=st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1, max_size=5),
    unit=st.none() | st.sampled_from(list(Unit)),
    beside=st.none() | st.sampled_from(list(Unit)),
)
def test_whatever_is_said_it_is_recognised_as_something_that_can_be_configured(
    name: str, values: list[float], unit: Unit | None, beside: Unit | None
) -> None:
    found = recognise(name, values, unit, beside)
    assert bool(found.likely) != bool(found.remark)
    for one in found.likely:
        assert one.unit in units_of(one.quantity)
        assert one.why
