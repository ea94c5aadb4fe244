"""Lines keep to their cells, whatever is written in them."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from fermwatch.drawing.lines import Line, Span, cells, cut, cut_line, ends, fit, merge, plain, width, wrap, wrap_whole
from fermwatch.saying.ink import Ink

words = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs", "M")), max_size=40)
lines = st.lists(st.builds(Span, words, st.sampled_from(Ink)), max_size=6).map(tuple)


@given(words, st.integers(0, 60))
def test_cut_text_is_never_wider(text: str, limit: int) -> None:
    assert cells(cut(text, limit)) <= limit


@given(lines, st.integers(0, 60))
def test_a_fitted_line_is_exactly_as_wide_as_asked(line: Line, size: int) -> None:
    assert width(fit(line, size)) == size
    assert width(cut_line(line, size)) <= size


@given(lines, lines, st.integers(1, 60))
def test_ends_are_never_wider(left: Line, right: Line, size: int) -> None:
    assert width(ends(left, right, size)) == size


@given(lines)
def test_merging_changes_nothing_that_is_seen(line: Line) -> None:
    merged = merge(line)
    assert plain(merged) == plain(line)
    assert all(one.ink is not other.ink for one, other in pairwise(merged))


@given(st.text("ab \t", max_size=200), st.integers(4, 40), st.integers(1, 5))
def test_wrapped_text_keeps_its_words_or_says_that_some_are_missing(text: str, size: int, rows: int) -> None:
    wrapped = wrap(text, size, rows)
    assert len(wrapped) <= rows
    assert all(cells(row) <= size for row in wrapped)
    if not any("…" in row for row in wrapped):
        assert " ".join(wrapped).split() == text.split()


def test_cells_agree_with_a_terminal_librarys_tables() -> None:
    for sign in "aé中한°±×–…┄┝━┥╋█▒░◂▸▌─⠿⣿🍺":
        assert cells(sign) == cell_len(sign), sign


@pytest.mark.parametrize("size", range(10, 40))
def test_no_line_breaks_between_a_number_and_its_unit(size: int) -> None:
    lines = wrap("within the yeast's range 62.6–71.6 °F; 4 points a day, 5.3 US gal, at 12 psi", size, 20)
    assert all(len(line) <= size for line in lines)
    assert not any(line.startswith(("°F", "points", "US gal", "psi", "gal")) for line in lines if size > 12)


def test_what_is_too_long_loses_its_last_sentences_before_a_word_is_cut() -> None:
    said = "Cool it by 3 °C within the day; check that the fridge runs. Shut its door (it stood open)."
    assert wrap_whole(said, 100, 1) == [said]
    assert wrap_whole(said, 76, 1) == ["Cool it by 3 °C within the day; check that the fridge runs."]
    assert wrap_whole(said, 40, 1) == ["Cool it by 3 °C within the day"]
    assert wrap_whole(said, 40, 2) == ["Cool it by 3 °C within the day; check", "that the fridge runs."]
    assert wrap_whole(said, 20, 1) == ["Cool it by 3 °C wit…"]
    assert wrap_whole("too warm (for 4 h)", 12, 1) == ["too warm"]
