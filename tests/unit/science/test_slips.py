"""A slip of the fingers gets one line that says what was probably meant; a sound number gets none."""

import pytest

from fermwatch.science.slips import brix_slip, gravity_slip, pair_slip, temperature_slip


@pytest.mark.parametrize("typed", ["1.048", " 1.048 ", "0.998", 1.0, "1.178"])
def test_a_gravity_that_can_be_meant_passes(typed: str | float) -> None:
    assert gravity_slip(typed) is None


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("1048", "Did you mean 1.048?"),
        (1048.0, "Did you mean 1.048?"),
        ("48", "Did you mean 1.048?"),
        ("1.48", "Did you mean 1.048?"),
        ("0.048", "Did you mean 1.048?"),
        ("-1.048", "Did you mean 1.048?"),
        ("1,048", "did you mean 1.048?"),
        ("12.5", "looks like °Plato or °Brix: as a specific gravity that is 1.0505"),
        ("", "No gravity was given"),
        ("  ", "No gravity was given"),
        ("heavy", "'heavy' is not a number"),
        ("nan", "is no gravity"),
        ("inf", "is no gravity"),
        ("99999", "between 0.990 and 1.179"),
        ("0.5", "between 0.990 and 1.179"),
        ("-7", "between 0.990 and 1.179"),
    ],
)
def test_a_slip_in_a_gravity_is_named(typed: str | float, said: str) -> None:
    slip = gravity_slip(typed)
    assert slip is not None
    assert said in slip


def test_a_pair_the_wrong_way_round_is_named() -> None:
    assert pair_slip("1.048", "1.010") is None
    assert "swapped" in (pair_slip("1.010", "1.048") or "")
    assert "Did you mean 1.010?" in (pair_slip("1.048", "1010") or "")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("1.048", "looks like a specific gravity: that is 11.9 °Bx"),
        ("1048", "looks like a specific gravity: that is 11.9 °Bx"),
        ("-1", "below water"),
        ("80", "between 0 and 40 °Bx"),
        ("sweet", "is not a number"),
        ("", "No refractometer reading was given"),
    ],
)
def test_a_slip_in_a_refractometer_reading_is_named(typed: str, said: str) -> None:
    slip = brix_slip(typed)
    assert slip is not None
    assert said in slip


@pytest.mark.parametrize("typed", ["12.4", "0", "1.2", 6.0, "40"])
def test_a_refractometer_reading_that_can_be_meant_passes(typed: str | float) -> None:
    assert brix_slip(typed) is None


@pytest.mark.parametrize(
    ("typed", "fahrenheit", "said"),
    [
        ("68", False, "If you meant °F, that is 20.0 °C"),
        ("20", True, "If you meant °C, write 20C: that is 68 °F"),
        ("293", False, "looks like kelvin: that is 19.9 °C"),
        ("-5", False, "outside 0 to 40 °C"),
        ("500", True, "outside 32 to 104 °F"),
        ("warm", False, "is not a number"),
        ("", False, "No temperature was given"),
    ],
)
def test_a_slip_in_a_temperature_is_named(typed: str, fahrenheit: bool, said: str) -> None:
    slip = temperature_slip(typed, fahrenheit=fahrenheit)
    assert slip is not None
    assert said in slip


def test_a_temperature_that_can_be_meant_passes() -> None:
    assert temperature_slip("20.5") is None
    assert temperature_slip("68", fahrenheit=True) is None
    assert temperature_slip(-1.0, low_c=-2.0) is None


@pytest.mark.parametrize("typed", ["\x1b[31m9", "[red]9[/]", "9" * 5000, "1" + "0" * 300, "1\n2"])
def test_whatever_was_typed_the_answer_is_one_short_line_without_control_characters(typed: str) -> None:
    for slip in (gravity_slip(typed), brix_slip(typed), temperature_slip(typed)):
        assert slip is not None
        assert slip.isprintable()
        assert len(slip) < 160
