"""Lines of inked text as a picture (SVG 1.1): cells stand in their columns whatever font there is, and nothing in it
names a place outside of itself.
"""

from collections.abc import Iterator, Sequence
from html import escape

from fermwatch.drawing.lines import Line, cells
from fermwatch.drawing.palette import BOLD, Palette
from fermwatch.saying.ink import Ink
from fermwatch.text import clean

CELL, ROW, BASE = 8.4, 18.0, 13.5  # of 14 pixels of type: a cell's width and height, and where letters stand in it
MARGIN = 14.0
FONTS = "ui-monospace,'DejaVu Sans Mono','Cascadia Mono',Menlo,Consolas,monospace"
LONGEST = 1000


def picture(lines: Sequence[Line], columns: int, title: str, palette: Palette) -> str:
    """As high as its lines. title: what it shows, for who cannot see it."""
    width, height = columns * CELL + 2 * MARGIN, len(lines) * ROW + 2 * MARGIN
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" role="img">',
            f"<title>{_text(title)}</title>",
            f"<style>text{{font:14px {FONTS};white-space:pre}}{''.join(_inks(palette))}</style>",
            f'<rect width="100%" height="100%" rx="6" fill="{palette.background}"/>',
            *(row for number, line in enumerate(lines) for row in _row(number, line)),
            "</svg>\n",
        ]
    )


def _inks(palette: Palette) -> Iterator[str]:
    for ink, colour in palette.inks.items():
        yield f".{ink}{{fill:{colour}{';font-weight:bold' if ink in BOLD else ''}}}"


def _row(number: int, line: Line) -> Iterator[str]:
    """Each span at its own place and as wide as its cells; blanks at its ends are left out."""
    at, y = 0, MARGIN + number * ROW + BASE
    for span in line:
        text = clean(span.text, LONGEST)
        began = at + len(text) - len(text.lstrip(" "))
        shown = text.strip(" ")
        if shown:
            yield _span(MARGIN + began * CELL, y, shown, span.ink)
        at += cells(text)


def _span(x: float, y: float, text: str, ink: Ink) -> str:
    size = cells(text) * CELL
    place = f'x="{x:.1f}" y="{y:.1f}" textLength="{size:.1f}" lengthAdjust="spacingAndGlyphs"'
    return f'<text class="{ink}" {place}>{_text(text)}</text>'


def _text(text: str) -> str:
    return escape(text, quote=False)
