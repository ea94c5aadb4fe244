"""Units at the edge: every one that a quantity may be said in, and no other."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.errors import InputError
from fermwatch.model.quantity import CANONICAL_UNIT, Quantity, Unit
from fermwatch.units import fahrenheit, to_canonical, units_of

BEER, GRAVITY, PRESSURE, OUTPUT = Quantity.BEER_TEMPERATURE, Quantity.GRAVITY, Quantity.PRESSURE, Quantity.OUTPUT


@pytest.mark.parametrize(
    ("value", "unit", "quantity", "kept"),
    [
        # Fixed points of the scales, and the definitions of NIST SP 811 (2008), appendix B.8.
        (212.0, Unit.FAHRENHEIT, BEER, 100.0),
        (-40.0, Unit.FAHRENHEIT, BEER, -40.0),
        (273.15, Unit.KELVIN, BEER, 0.0),
        (48.0, Unit.POINTS, GRAVITY, 1.048),
        (100.0, Unit.KILOPASCAL, PRESSURE, 1.0),
        (1.0, Unit.PSI, PRESSURE, 0.06894757),
        (35.0, Unit.PERCENT, OUTPUT, 0.35),
        (1.0, Unit.SWITCH, OUTPUT, 1.0),
        (0.0, Unit.SWITCH, OUTPUT, 0.0),
    ],
)
def test_values_are_kept_in_the_canonical_unit(value: float, unit: Unit, quantity: Quantity, kept: float) -> None:
    assert to_canonical(value, unit, quantity) == pytest.approx(kept, abs=1e-8)


@pytest.mark.parametrize("unit", [Unit.PLATO, Unit.BRIX])
def test_twelve_percent_of_extract_is_about_1_048(unit: Unit) -> None:
    assert to_canonical(12.0, unit, GRAVITY) == pytest.approx(1.0484, abs=2e-4)


@pytest.mark.parametrize("quantity", list(Quantity))
def test_a_quantity_can_be_said_in_its_units_alone(quantity: Quantity) -> None:
    assert units_of(quantity)[0] is CANONICAL_UNIT[quantity]
    for unit in Unit:
        if unit in units_of(quantity):
            assert math.isfinite(to_canonical(1.0, unit, quantity))
        else:
            with pytest.raises(InputError, match="Use one of"):
                to_canonical(1.0, unit, quantity)


@given(st.floats(-300, 300))
def test_fahrenheit_and_back(celsius: float) -> None:
    assert to_canonical(fahrenheit(celsius), Unit.FAHRENHEIT, BEER) == pytest.approx(celsius, abs=1e-9)
