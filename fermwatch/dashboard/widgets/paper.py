"""A sheet of inked lines: it sends the terminal only the cells that changed, and nothing that is not harmless text."""

from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget

from fermwatch.drawing.lines import EMPTY, Line, cells
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import to_ascii
from fermwatch.text import clean

LONGEST_LINE = 1000

Cell = tuple[str, Ink]
BLANK: Cell = (" ", Ink.PLAIN)


def to_cells(line: Line) -> list[Cell]:
    """One entry per cell; the second cell of a wide character is empty."""
    found: list[Cell] = []
    for span in line:
        for character in span.text:
            size = cells(character)
            if size == 0 and found:
                found[-1] = (found[-1][0] + character, found[-1][1])
            elif size:
                found.append((character, span.ink))
                found.extend([("", span.ink)] * (size - 1))
    return found


def changed(old: Line, new: Line) -> tuple[int, int] | None:
    """The stretch of cells, as start and end, in which two lines differ.

    One for a line: Textual sends a line from the widget's left edge to the stretch's end, so that a second stretch
    would send its beginning twice.
    """
    before, after = to_cells(old), to_cells(new)
    longest = max(len(before), len(after))
    before += [BLANK] * (longest - len(before))
    after += [BLANK] * (longest - len(after))
    differing = [x for x in range(longest) if before[x] != after[x] and not before[x][0] == after[x][0] == " "]
    return (differing[0], differing[-1] + 1) if differing else None


class Paper(Widget):
    """Lines of ink. `show` takes the next ones; unchanged cells cost nothing."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {f"paper--{ink}" for ink in Ink}
    lines: reactive[tuple[Line, ...]] = reactive((), repaint=False)

    def __init__(self, *, ascii_only: bool = False, id: str | None = None) -> None:  # noqa: A002 - Textual's name
        super().__init__(id=id)
        self._ascii_only = ascii_only
        self._styles_by_ink: dict[Ink, Style] = {}

    def show(self, lines: tuple[Line, ...]) -> None:
        old = self.lines
        self.set_reactive(Paper.lines, lines)
        for y in range(max(len(old), len(lines))):
            was = old[y] if y < len(old) else EMPTY
            new = lines[y] if y < len(lines) else EMPTY
            stretch = changed(was, new) if was != new else None
            if stretch is not None:
                self.refresh(Region(stretch[0], y, stretch[1] - stretch[0], 1))

    def notify_style_update(self) -> None:
        self._styles_by_ink.clear()
        super().notify_style_update()

    def render_line(self, y: int) -> Strip:
        line = self.lines[y] if y < len(self.lines) else EMPTY
        size = self.size.width
        segments = [Segment(self._shown(span.text), self._ink(span.ink)) for span in line]
        return Strip(segments).adjust_cell_length(size, self._ink(Ink.PLAIN))

    def _shown(self, text: str) -> str:
        """The one gate between any text and the terminal."""
        harmless = clean(text, LONGEST_LINE)
        return to_ascii(harmless) if self._ascii_only else harmless

    def _ink(self, ink: Ink) -> Style:
        style = self._styles_by_ink.get(ink)
        if style is None:
            style = self.get_component_rich_style(f"paper--{ink}")
            self._styles_by_ink[ink] = style
        return style
