"""Whatever a device says, what is shown of it is one short, visible, harmless line."""

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from fermwatch.text import clean

ANYTHING = st.one_of(
    st.text(st.characters(categories=["C", "Z", "M", "L", "S", "P", "N"]), max_size=300),
    st.text(
        st.sampled_from("\x00\x07\x1b\x7f\x85\x9b\u00ad\u061c\u200b\u200d\u200f\u202e\u2066\u2069\ufeffab[/]"),
        max_size=300,
    ),
)


@given(ANYTHING, st.integers(1, 200))
def test_no_control_format_or_line_separator_is_left_and_the_length_is_bounded(text: str, limit: int) -> None:
    line = clean(text, limit)
    assert len(line) <= limit
    assert line.isprintable() or all(unicodedata.category(sign) == "Zs" for sign in line if not sign.isprintable())
    assert not {unicodedata.category(sign) for sign in line} & {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
    assert len(line.splitlines()) <= 1


@given(st.binary(max_size=500), st.integers(1, 200))
def test_so_it_is_for_bytes(data: bytes, limit: int) -> None:
    line = clean(data, limit)
    assert len(line) <= limit
    assert not any(unicodedata.category(sign).startswith("C") for sign in line)


@given(ANYTHING, st.integers(1, 200))
def test_cleaned_twice_is_cleaned_once(text: str, limit: int) -> None:
    assert clean(clean(text, limit), limit) == clean(text, limit)


@given(st.text(st.characters(codec="ascii", categories=["L", "N", "P", "S"]), max_size=80))
def test_plain_text_is_left_as_it_is(text: str) -> None:
    assert clean(text) == text
