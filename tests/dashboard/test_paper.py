"""The sheet of paper sends the cells that changed, and no others."""

from hypothesis import given
from hypothesis import strategies as st

from fermwatch.dashboard.widgets.paper import changed, to_cells
from fermwatch.drawing.lines import Line, Span, width
from fermwatch.saying.ink import Ink

texts = st.text("abc .°中━", max_size=30)
lines = st.lists(st.builds(Span, texts, st.sampled_from([Ink.PLAIN, Ink.STRONG, Ink.WARNING])), max_size=5).map(tuple)


def _padded(line: Line, size: int) -> list[tuple[str, Ink]]:
    return to_cells(line) + [(" ", Ink.PLAIN)] * (size - width(line))


@given(lines, lines)
def test_the_changed_stretch_turns_the_old_line_into_the_new(old: Line, new: Line) -> None:
    size = max(width(old), width(new))
    shown, wanted = _padded(old, size), _padded(new, size)
    stretch = changed(old, new)
    if stretch is not None:
        shown[slice(*stretch)] = wanted[slice(*stretch)]
    seen = [(sign, ink if sign != " " else None) for sign, ink in shown]
    assert seen == [(sign, ink if sign != " " else None) for sign, ink in wanted]


@given(lines)
def test_an_unchanged_line_costs_nothing(line: Line) -> None:
    assert changed(line, line) is None


def test_only_what_differs_is_sent() -> None:
    assert changed((Span("beer 19.2 °C  1.024"),), (Span("beer 19.3 °C  1.024"),)) == (8, 9)
    assert changed((Span("long line"),), (Span("long"),)) == (5, 9)
    assert changed((Span("a", Ink.PLAIN),), (Span("a", Ink.WARNING),)) == (0, 1)
