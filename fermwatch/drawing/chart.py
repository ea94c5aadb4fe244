"""Curves with their scales: a small one for a lane, and a strip of chart paper with hours for a tall one."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from fermwatch.contracts.feed import Lane
from fermwatch.contracts.store import Bucket
from fermwatch.drawing import curve
from fermwatch.drawing.glyphs import Glyphs
from fermwatch.drawing.lines import Line, Span, merge
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice

LEAST_C = 3.0  # a scale no finer than this, so that a probe's noise does not look like news
LEAST_SG = 0.004
_LABEL = 7
_HOURS = 6
QUARTER = timedelta(minutes=15)  # every zone is whole quarters of an hour away from UTC
Scale = tuple[float, float]


def _strokes(data: Sequence[Bucket], now: datetime, size: int, rows: int, scale: Scale, glyphs: Glyphs) -> list[str]:
    draw = curve.braille if glyphs.braille else curve.typed
    return draw(data, now, size, rows, scale)


def small(lane: Lane, size: int, rows: int, now: datetime, voice: Voice, glyphs: Glyphs) -> list[Line]:
    """The beer's last day in `rows` rows, the last one saying between what it moved where there is room for it."""
    bounds = curve.extent(lane.beer_curve, LEAST_C)
    if bounds is None:
        return [(Span("no curve yet"[:size], Ink.FAINT),)]
    if rows < 2:
        return [(Span(text),) for text in _strokes(lane.beer_curve, now, size, rows, bounds, glyphs)]
    drawn: list[Line] = [(Span(text),) for text in _strokes(lane.beer_curve, now, size, rows - 1, bounds, glyphs)]
    low = min(bucket.low for bucket in lane.beer_curve)
    high = max(bucket.high for bucket in lane.beer_curve)
    dash = "-" if voice.ascii else "–"
    said = f"{voice.degrees(low):.1f}{dash}{voice.temperature(high)}"
    said += " in 24 h" if len(said) + 8 <= size else ""
    return [*drawn, (Span(said, Ink.FAINT),)]


def paper(
    lane: Lane, range_c: Scale | None, size: int, rows: int, now: datetime, voice: Voice, glyphs: Glyphs
) -> list[Line]:
    """Beer temperature above, gravity below where there is any, the hours underneath."""
    drawing = size - _LABEL - 1
    curves = rows - 1
    lines: list[Line] = []
    gravity_rows = curves * 2 // 5 if lane.gravity_curve else 0
    lines += _beer(lane, range_c, drawing, curves - gravity_rows, now, voice, glyphs)
    bounds = curve.extent(lane.gravity_curve, LEAST_SG)
    if gravity_rows and bounds is not None:
        strokes = _strokes(lane.gravity_curve, now, drawing, gravity_rows, bounds, glyphs)
        labels = _edge_labels(voice.bare_gravity(bounds[1]), voice.bare_gravity(bounds[0]), gravity_rows)
        lines += [_row(label, (Span(text),)) for label, text in zip(labels, strokes, strict=True)]
    return [*lines, _row("", (Span(_hours(drawing, now, voice, glyphs), Ink.FAINT),))]


def _beer(
    lane: Lane, range_c: Scale | None, size: int, rows: int, now: datetime, voice: Voice, glyphs: Glyphs
) -> list[Line]:
    """The beer's curve with the yeast's range ruled behind it."""
    bounds = curve.extent(lane.beer_curve, LEAST_C)
    if bounds is None:
        blank: list[Line] = [_row("", ()) for _ in range(rows)]
        blank[rows // 2] = _row("", (Span("nothing heard of the beer in 24 h", Ink.FAINT),))
        return blank
    if range_c is not None:
        bounds = min(bounds[0], range_c[0]), max(bounds[1], range_c[1])
    strokes = _strokes(lane.beer_curve, now, size, rows, bounds, glyphs)
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


def _hours(size: int, now: datetime, voice: Voice, glyphs: Glyphs) -> str:
    """The hours of the clock on the wall, each sixth one beginning at its place; `now` at the right.

    Places are by time gone by: where the clock is changed, six hours of it are five or seven.
    """
    row = [glyphs.outside] * size
    end = curve.paper_end(now)
    _write(row, "now", size - len("now"))
    for quarter in range(int(curve.SPAN / QUARTER) + 1):
        gone = quarter * QUARTER
        local = voice.local(end - gone)
        if local.minute == 0 and local.hour % _HOURS == 0:
            _write(row, f"{local:%H:%M}", curve.column(end - gone, now, size))
    return "".join(row)


def _write(row: list[str], label: str, at: int) -> None:
    """The label from its place on, where there is room for it and a blank around it."""
    if not 0 <= at <= len(row) - len(label):
        return
    around = row[max(at - 1, 0) : at + len(label) + 1]
    if len(set(around)) == 1:
        row[at : at + len(label)] = label
