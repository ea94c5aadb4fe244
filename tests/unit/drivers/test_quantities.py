"""What counts as a number, and what Python's float would have taken for one."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.errors import ProbeMisbehaving
from fermwatch.model.quantity import Unit
from fermwatch_drivers.quantities import read_scalar, read_text


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("19.4", 19.4, None),
        ("  -0.5\t", -0.5, None),
        ("+.5", 0.5, None),
        ("19.5\n", 19.5, None),
        ("19.5 C\r\n", 19.5, Unit.CELSIUS),
        ("1.9e1", 19.0, None),
        ("19.5C", 19.5, Unit.CELSIUS),
        ("19.5 °C", 19.5, Unit.CELSIUS),
        ("66.2 F", 66.2, Unit.FAHRENHEIT),
        ("66.2degF", 66.2, Unit.FAHRENHEIT),
        ("292.6 K", 292.6, Unit.KELVIN),
        ("1.048 SG", 1.048, Unit.SG),
        ("48 points", 48.0, Unit.POINTS),
        ("12.1 P", 12.1, Unit.PLATO),
        ("12.1 °P", 12.1, Unit.PLATO),
        ("12.1 Brix", 12.1, Unit.BRIX),
        ("0.9 bar", 0.9, Unit.BAR),
        ("90 kPa", 90.0, Unit.KILOPASCAL),
        ("13 psi", 13.0, Unit.PSI),
        ("40%", 40.0, Unit.PERCENT),
        ("on", 1.0, Unit.SWITCH),
        ("OFF", 0.0, Unit.SWITCH),
    ],
)
def test_a_number_with_or_without_its_unit_is_read(text: str, value: float, unit: Unit | None) -> None:
    assert read_text(text) == (value, unit)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "19.",
        "nan",
        "NaN",
        "inf",
        "-inf",
        "Infinity",
        "1e999",
        "1_0",
        "٣.٥",
        "１９",
        "0x13",
        "19,5",
        "1 9",
        "--1",
        "19.4.2",
        "19.5 parsecs",
        "1.048 S G",
        "19\n5",
        "\x0019",
        "19\x1b[31m",
        "e5",
        ".",
        "-",
        "1" * 65,
    ],
)
def test_what_a_probe_cannot_have_meant_is_refused(text: str) -> None:
    with pytest.raises(ProbeMisbehaving):
        read_text(text)


@pytest.mark.parametrize(
    ("value", "expected"),
    [(19, (19.0, None)), (19.5, (19.5, None)), ("66 F", (66.0, Unit.FAHRENHEIT)), (True, (1.0, Unit.SWITCH))],
)
def test_a_json_value_is_read_as_what_it_says(value: object, expected: tuple[float, Unit | None]) -> None:
    assert read_scalar(value) == expected


@pytest.mark.parametrize("value", [None, [], {}, [19.5], math.nan, math.inf, 10**400, "warm"])
def test_a_json_value_that_is_no_number_is_refused(value: object) -> None:
    with pytest.raises(ProbeMisbehaving):
        read_scalar(value)


@given(st.text(max_size=80))
def test_any_text_is_a_finite_number_or_refused(text: str) -> None:
    try:
        value, _ = read_text(text)
    except ProbeMisbehaving:
        return
    assert math.isfinite(value)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_what_a_device_prints_comes_back_to_the_last_bit(value: float) -> None:
    assert read_text(repr(value)).value == value
