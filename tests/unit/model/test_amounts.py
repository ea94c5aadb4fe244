"""Quantities in a sentence are said in the reader's units, and nothing from outside can pass for one."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.model import amounts
from fermwatch.model.amounts import plain, plain_data
from fermwatch.saying.voice import US as US_UNITS
from fermwatch.saying.voice import Units, Voice
from fermwatch.text import clean

US = Voice(US_UNITS)
PLATO = Voice(Units(plato=True))
SENTENCE = (
    f"beer {amounts.temperature(21.04)}, {amounts.warmth(1.04)} above {amounts.temperature_range(17, 20.5)}, "
    f"at {amounts.gravity(1.0123)}, {amounts.points(4)} to go, in {amounts.volume(19)}"
)


def test_a_sentence_is_said_in_each_readers_units() -> None:
    assert plain(SENTENCE) == "beer 21.0 °C, 1.0 °C above 17–20.5 °C, at 1.012, 4 points to go, in 19 L"
    assert US.text(SENTENCE) == "beer 69.9 °F, 1.9 °F above 62.6–68.9 °F, at 1.012, 4 points to go, in 5.0 US gal"
    assert PLATO.text(SENTENCE) == "beer 21.0 °C, 1.0 °C above 17–20.5 °C, at 3.1 °P, 1.0 °P to go, in 19 L"


@pytest.mark.parametrize(
    ("marked", "said"),
    [
        (amounts.points(1), "1 point"),
        (amounts.points(-0.04), "0 points"),
        (amounts.points(0.27, 2), "0.27 points"),
        (amounts.points(2.5, 1, signed=True), "+2.5 points"),
        (amounts.warmth(-0.04, signed=True), "0.0 °C"),
        (amounts.temperature(-0.04), "0.0 °C"),
        (amounts.gravity_range(1.0101, 1.0103), "1.010"),
        (amounts.pressure(5.62), "5.6 bar"),
        (amounts.mass(105.2), "105 g"),
    ],
)
def test_numbers_are_said_as_people_say_them(marked: str, said: str) -> None:
    assert plain(marked) == said


def test_programs_read_canonical_units() -> None:
    assert plain_data({"a": [amounts.temperature(20)], "b": 1}) == {"a": ["20.0 °C"], "b": 1}


@given(st.text())
def test_what_was_cleaned_holds_no_quantity(outside: str) -> None:
    harmless = clean(f"{outside}{amounts.temperature(20)}", 400)
    assert plain(harmless) == harmless == US.text(harmless)


@given(st.text())
def test_nonsense_that_looks_marked_is_left_alone(inside: str) -> None:
    plain(f"\ue000t:{inside}:1\ue001")


def test_no_gravity_is_minus_nothing() -> None:
    assert PLATO.gravity(1.0) == "0.0 °P"
    assert Voice().gravity_beside_plato(1.0) == "1.000 (0.0 °P)"


@pytest.mark.parametrize(
    ("marked", "said"),
    [
        (amounts.temperature_range(24, 27), "75–81 °F"),  # meant to a degree Celsius: no tenth of one was
        (amounts.temperature_range(17, 20.5), "62.6–68.9 °F"),
        (amounts.temperature(18, None), "64 °F"),
        (amounts.temperature(18.0), "64.4 °F"),  # as measured
        (amounts.mass(3 * 453.59237, None), "3 lb"),
        (amounts.mass(453.59237 + 45.4, None), "1 lb 1.6 oz"),
        (amounts.mass(56.7, None), "2 oz"),
        (amounts.mass(56.7), "2.00 oz (57 g)"),  # to be weighed
        (amounts.mass(104.0, None), "3.7 oz"),
    ],
)
def test_no_reader_is_told_more_digits_than_were_meant(marked: str, said: str) -> None:
    assert US.text(marked) == said
