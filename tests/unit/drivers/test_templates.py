"""Lines with names in them, both ways."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch_drivers.serial_line.templates import parse_template

WORDS = st.from_regex(r"[A-Za-z0-9.+_-]{1,32}", fullmatch=True)


def test_a_line_is_filled_and_read() -> None:
    template = parse_template("state {id} t={measured},{set-point} C")
    assert template.names == ("id", "measured", "set-point")
    values = {"id": "7", "measured": "-0.5", "set-point": "18"}
    assert template.fill(values) == "state 7 t=-0.5,18 C"
    assert template.read("  state   7 t=-0.5,18\tC ") == values


@pytest.mark.parametrize(
    "line",
    ["", "state 7 t=,18 C", "state 7 t=19.5 18 C", "xstate 7 t=1,2 C", "state 7 t=1,2 C more", "state 7 t=1;2 C"],
)
def test_another_line_is_not_read(line: str) -> None:
    assert parse_template("state {id} t={measured},{set-point} C").read(line) is None


@given(st.lists(WORDS, min_size=3, max_size=3))
def test_what_is_filled_in_is_read_back(words: list[str]) -> None:
    template = parse_template("{a} b={c};{d}")
    values = dict(zip(template.names, words, strict=True))
    assert template.read(template.fill(values)) == values


@given(st.text(max_size=300))
def test_any_line_is_read_or_not(line: str) -> None:
    words = parse_template("{a} b={c};{d}").read(line)
    assert words is None or set(words) == {"a", "c", "d"}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "plain characters"),
        (" a", "without blanks around it"),
        ("a\nb", "plain characters"),
        ("grüß", "plain characters"),
        ("x" * 201, "plain characters"),
        ("{A}", "small letters"),
        ("{a", "small letters"),
        ("{a} {a}", "stands once"),
        ("{a}{b}", "between two names"),
        ("{a}.{b}", "between two names"),
    ],
)
def test_what_cannot_be_a_template_is_told(text: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        parse_template(text)
