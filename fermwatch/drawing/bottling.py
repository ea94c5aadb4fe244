"""The page of a beer that is to be packaged: may it be, what is missing, and how hard it gets in what."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fermwatch.drawing.glyphs import Glyphs
from fermwatch.drawing.lines import EMPTY, Line, Span, cut_line, merge, wrap
from fermwatch.drawing.page import CURSOR, Sheet, showable
from fermwatch.saying.asked_for import Point
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice

WIDEST = 100
WHOLE = 60  # rows: the page scrolls, so that nothing is cut
LABEL = 13
NARROW_LABEL = 10
SIGN = 2  # cells of a label that is a sign
NARROW = 50  # cells
GAUGE = 44


@dataclass(frozen=True, slots=True)
class SheetRow:
    """label: what it is of; empty where it goes on. ink: of its text."""

    label: str
    text: str
    ink: Ink = Ink.PLAIN


@dataclass(frozen=True, slots=True)
class Turnable:
    """What can be turned by keys. here: whether the keys turn this one."""

    label: str
    text: str
    here: bool


@dataclass(frozen=True, slots=True)
class Pressures:
    """Bar, gauge: where most of them stand, how far they may climb, and what the package holds."""

    middle_bar: float
    high_bar: float
    limit_bar: float
    too_full: bool


@dataclass(frozen=True, slots=True)
class BottlingStory:
    """All that the page says, in words. said: a verdict, then what to do. points: what is asked of the beer."""

    name: str
    about: str
    said: tuple[SheetRow, ...]
    points: tuple[Point, ...] = ()
    why: bool = False
    turnables: tuple[Turnable, ...] = ()
    pressures: Pressures | None = None
    reckoned: tuple[SheetRow, ...] = ()
    cautions: tuple[SheetRow, ...] = ()


def lines(story: BottlingStory, sheet: Sheet, voice: Voice) -> list[Line]:
    size = min(max(sheet.width - CURSOR - 1, 16), WIDEST)
    label = LABEL if size >= NARROW else NARROW_LABEL
    blocks: list[list[Line]] = [
        [(Span(story.name, Ink.STRONG), Span(f"  {story.about}"))],
        rows(story.said, size, label),
        _points(story, size),
        _turnables(story.turnables, size, label, sheet.glyphs),
        [*_gauge(story.pressures, size, label, sheet.glyphs), *rows(story.reckoned, size, label)],
        rows(story.cautions, size, SIGN),
    ]
    told: list[Line] = [line for block in blocks if block for line in (*block, EMPTY)][:-1]
    return showable([cut_line((Span(" " * CURSOR), *line), sheet.width, voice.ellipsis) for line in told], sheet)


def rows(told: Iterable[SheetRow], size: int, label: int) -> list[Line]:
    """Labelled rows, each text hanging under itself; one without a label as wide as there is room."""
    lines: list[Line] = []
    for row in told:
        indent = 0 if not row.label else SIGN if len(row.label) < SIGN else label
        for place, text in enumerate(wrap(row.text, size - indent, WHOLE)):
            name = row.label if not place else ""
            lines.append((Span(name.ljust(indent)[:indent], Ink.FAINT), Span(text, row.ink)))
    return lines


MARK = 9


def _points(story: BottlingStory, size: int) -> list[Line]:
    """A point a line; what is met stands back. why: each with its numbers."""
    lines: list[Line] = []
    for one in story.points:
        ink = Ink.FAINT if one.met else Ink.PLAIN
        for place, text in enumerate(wrap(one.text, size - MARK, WHOLE)):
            mark = (one.mark if not place else "").ljust(MARK)
            lines.append((Span(mark, Ink.FAINT if one.met else Ink.STRONG), Span(text, ink)))
        if story.why:
            lines += [(Span(" " * MARK), Span(text, Ink.FAINT)) for text in wrap(one.because, size - MARK, WHOLE)]
    return lines


def _turnables(turnables: Sequence[Turnable], size: int, label: int, glyphs: Glyphs) -> list[Line]:
    """The one that keys turn stands between its arrows."""
    lines: list[Line] = []
    for one in turnables:
        shown = f"{glyphs.off_low} {one.text} {glyphs.off_high}" if one.here else f"  {one.text}"
        name = f"{glyphs.cursor if one.here else ' '} {one.label}"[: label - 1].ljust(label)
        ink = Ink.PICK if one.here else Ink.PLAIN
        for place, text in enumerate(wrap(shown, size - label, WHOLE)):
            said = text if one.here or place else f"  {text}"
            lines.append((Span(name if not place else " " * label, ink if one.here else Ink.FAINT), Span(said, ink)))
    return lines


def _gauge(pressures: Pressures | None, size: int, label: int, glyphs: Glyphs) -> list[Line]:
    """From none to a quarter beyond the limit: how far most are filled, how far they may be, and the limit."""
    if pressures is None or size - label < 12:
        return []
    cells = min(size - label, GAUGE)
    per_bar = (cells - 1) / max(pressures.limit_bar * 1.25, 1e-9)
    middle = min(int(max(pressures.middle_bar, 0.0) * per_bar), cells - 1)
    high = min(int(max(pressures.high_bar, 0.0) * per_bar), cells - 1)
    limit = min(int(pressures.limit_bar * per_bar), cells - 1)
    ink = Ink.WARNING if pressures.too_full else Ink.PLAIN
    drawn = [Span(glyphs.ahead, Ink.FAINT)] * cells
    drawn[: high + 1] = [Span(glyphs.uncertain, ink)] * (high + 1)
    drawn[:middle] = [Span(glyphs.passed, ink)] * middle
    drawn[middle] = Span(glyphs.pen, Ink.STRONG if not pressures.too_full else ink)
    if middle != limit:
        drawn[limit] = Span(glyphs.likely, Ink.STRONG)
    return [merge((Span("pressure".ljust(label)[:label], Ink.FAINT), *drawn))]
