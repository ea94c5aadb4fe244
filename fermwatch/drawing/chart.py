"""Curves with their scales: a small one for a lane, and a strip of chart paper with hours for any window of time."""

from collections.abc import Sequence
from datetime import datetime

from fermwatch.contracts.feed import Curves
from fermwatch.contracts.store import Bucket
from fermwatch.drawing import curve, hours
from fermwatch.drawing.glyphs import Glyphs
from fermwatch.drawing.lines import Line, Span, merge
from fermwatch.model.window import Window
from fermwatch.saying import words
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice

LEAST_C = 3.0  # a scale no finer than this, so that a probe's noise does not look like news
LEAST_SG = 0.004
_LABEL = 7
Scale = tuple[float, float]


def _strokes(data: Sequence[Bucket], window: Window, size: int, rows: int, scale: Scale, glyphs: Glyphs) -> list[str]:
    draw = curve.braille if glyphs.braille else curve.typed
    return draw(data, window, size, rows, scale)


def small(curves: Curves, size: int, rows: int, voice: Voice, glyphs: Glyphs) -> list[Line]:
    """The beer in `rows` rows, the last one saying between what it moved where there is room for it."""
    bounds = curve.extent(curves.beer, LEAST_C)
    if bounds is None:
        return [(Span("no curve yet"[:size], Ink.FAINT),)]
    if rows < 2:
        return [(Span(text),) for text in _strokes(curves.beer, curves.window, size, rows, bounds, glyphs)]
    drawn: list[Line] = [(Span(text),) for text in _strokes(curves.beer, curves.window, size, rows - 1, bounds, glyphs)]
    low = min(bucket.low for bucket in curves.beer)
    high = max(bucket.high for bucket in curves.beer)
    dash = "-" if voice.ascii else "–"
    said = f"{voice.degrees(low):.1f}{dash}{voice.temperature(high)}"
    said += f" in {_length(curves.window)}" if len(said) + 8 <= size else ""
    return [*drawn, (Span(said, Ink.FAINT),)]


def paper(
    curves: Curves, range_c: Scale | None, size: int, rows: int, now: datetime, voice: Voice, glyphs: Glyphs
) -> list[Line]:
    """Beer temperature above, gravity below where there is any, the hours underneath."""
    drawing = size - _LABEL - 1
    height = rows - 1
    lines: list[Line] = []
    gravity_rows = height * 2 // 5 if curves.gravity else 0
    lines += _beer(curves, range_c, drawing, height - gravity_rows, voice, glyphs)
    bounds = curve.extent(curves.gravity, LEAST_SG)
    if gravity_rows and bounds is not None:
        strokes = _strokes(curves.gravity, curves.window, drawing, gravity_rows, bounds, glyphs)
        labels = _edge_labels(voice.bare_gravity(bounds[1]), voice.bare_gravity(bounds[0]), gravity_rows)
        lines += [_row(label, (Span(text),)) for label, text in zip(labels, strokes, strict=True)]
    return [*lines, _row("", (Span(hours.axis(curves.window, drawing, now, voice, glyphs), Ink.FAINT),))]


def _beer(curves: Curves, range_c: Scale | None, size: int, rows: int, voice: Voice, glyphs: Glyphs) -> list[Line]:
    """The beer's curve with the yeast's range ruled behind it."""
    bounds = curve.extent(curves.beer, LEAST_C)
    if bounds is None:
        blank: list[Line] = [_row("", ()) for _ in range(rows)]
        blank[rows // 2] = _row("", (Span(f"nothing heard of the beer in {_length(curves.window)}", Ink.FAINT),))
        return blank
    if range_c is not None:
        bounds = min(bounds[0], range_c[0]), max(bounds[1], range_c[1])
    strokes = _strokes(curves.beer, curves.window, size, rows, bounds, glyphs)
    labels = _edge_labels(voice.bare_temperature(bounds[1]), voice.bare_temperature(bounds[0]), rows)
    ruled: dict[int, str] = {}
    for edge in range_c or ():
        row = min(int((bounds[1] - edge) / (bounds[1] - bounds[0]) * rows), rows - 1)
        ruled[row] = glyphs.outside
        labels[row] = voice.bare_temperature(edge)
    return [
        _row(labels[row], _over(text, ruled[row]) if row in ruled else (Span(text),))
        for row, text in enumerate(strokes)
    ]


def _over(text: str, rule: str) -> Line:
    """Strokes over a ruled row."""
    return merge(tuple(Span(rule, Ink.FAINT) if sign == " " else Span(sign) for sign in text))


def _row(label: str, line: Line) -> Line:
    return Span(label.rjust(_LABEL) + " ", Ink.FAINT), *line


def _edge_labels(top: str, bottom: str, rows: int) -> list[str]:
    return [top, *[""] * (rows - 2), bottom] if rows > 1 else [top]


def _length(window: Window) -> str:
    return words.age(window.length.total_seconds())
