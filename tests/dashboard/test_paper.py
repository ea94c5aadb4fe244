"""The sheet of paper sends the cells that changed, and no others."""

from hypothesis import given
from hypothesis import strategies as st

from fermwatch.dashboard.widgets.paper import NEAR, changes, to_cells
from fermwatch.presentation.ink import Ink, Line, Span, width

texts = st.text("abc .°中━", max_size=30)
lines = st.lists(st.builds(Span, texts, st.sampled_from([Ink.PLAIN, Ink.STRONG, Ink.WARNING])), max_size=5).map(tuple)


def _padded(line: Line, size: int) -> list[tuple[str, Ink]]:
    return to_cells(line) + [(" ", Ink.PLAIN)] * (size - width(line))


@given(lines, lines)
def test_the_changed_stretches_turn_the_old_line_into_the_new(old: Line, new: Line) -> None:
    size = max(width(old), width(new))
    shown, wanted = _padded(old, size), _padded(new, size)
    for start, end in changes(old, new):
        shown[start:end] = wanted[start:end]
    seen = [(sign, ink if sign != " " else None) for sign, ink in shown]
    assert seen == [(sign, ink if sign != " " else None) for sign, ink in wanted]


@given(lines)
def test_an_unchanged_line_costs_nothing(line: Line) -> None:
    assert list(changes(line, line)) == []


def test_far_changes_are_sent_apart_and_near_ones_together() -> None:
    old = (Span("1" + " " * 30 + "1 1"),)
    new = (Span("2" + " " * 30 + "2 2"),)
    assert list(changes(old, new)) == [(0, 1), (31, 34)]
    assert NEAR < 30
