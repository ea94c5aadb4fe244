"""The temperature scale: the yeast's range as a band, the set point on it, and the beer as a pen."""

from fermwatch.drawing.glyphs import Glyphs
from fermwatch.drawing.lines import EMPTY, Line, Span, cells, merge, whole_words
from fermwatch.model.intent import Band
from fermwatch.saying.facts import LaneFacts
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice

# Beyond either end of the range, as a share of its width: room to see how far outside the beer is.
MARGIN = 0.8
SMALLEST_MARGIN_C = 2.5


def domain(range_c: tuple[float, float]) -> tuple[float, float]:
    """The ends of the scale, °C. They depend on the yeast alone, so that the scale stands still."""
    low, high = range_c
    margin = max(MARGIN * (high - low), SMALLEST_MARGIN_C)
    return low - margin, high + margin


def column(value: float, low: float, high: float, size: int) -> int:
    """The cell of a value on a scale; beyond its ends, -1 or `size`."""
    if value < low:
        return -1
    if value > high:
        return size
    return min(int((value - low) / (high - low) * size), size - 1)


def place(text: str, at: int, size: int) -> int:
    """Where a label must start so that its middle is at a cell, and all of it on the scale."""
    return max(0, min(at - cells(text) // 2, size - cells(text)))


def strip(facts: LaneFacts, size: int, glyphs: Glyphs) -> Line:
    """One row: the scale with the band, the set point and the pen."""
    if facts.range_c is None:
        return (Span(glyphs.outside * size, Ink.FAINT),)
    low, high = domain(facts.range_c)
    first, last = (min(max(column(edge, low, high, size), 0), size - 1) for edge in facts.range_c)
    drawn = [Span(glyphs.band if first < x < last else glyphs.outside, Ink.FAINT) for x in range(size)]
    for x in range(first + 1, last):
        drawn[x] = Span(glyphs.band, Ink.PLAIN)
    drawn[first], drawn[last] = Span(glyphs.low_edge, Ink.PLAIN), Span(glyphs.high_edge, Ink.PLAIN)
    if facts.set_point_c is not None and 0 <= (x := column(facts.set_point_c, low, high, size)) < size:
        drawn[x] = Span(glyphs.set_point, Ink.PLAIN)
    if facts.beer.value is not None:
        _pen(drawn, column(facts.beer.value, low, high, size), facts, glyphs)
    return merge(tuple(drawn))


def _pen(drawn: list[Span], x: int, facts: LaneFacts, glyphs: Glyphs) -> None:
    size, ink = len(drawn), pen_ink(facts)
    sign = glyphs.pen_stale if facts.beer.remark else glyphs.pen
    sign = glyphs.off_low if x < 0 else glyphs.off_high if x >= size else sign
    drawn[min(max(x, 0), size - 1)] = Span(sign, ink)


def pen_ink(facts: LaneFacts) -> Ink:
    """The colour of the beer's temperature: that of the lane's alarm while it is outside the yeast's range."""
    value = facts.beer.value
    if facts.beer.remark:
        return Ink.FAINT
    if value is None or facts.range_c is None or Band(*facts.range_c).side(value) is None:
        return Ink.STRONG
    return facts.ink if facts.ink is not Ink.PLAIN else Ink.STRONG


def reading(facts: LaneFacts, voice: Voice) -> str:
    if facts.beer.value is None:
        return f"- {facts.beer.remark}".strip()
    said = voice.temperature(facts.beer.value)
    return f"{said} {facts.beer.remark}".strip()


def above(facts: LaneFacts, size: int, voice: Voice) -> Line:
    """The reading, riding over the pen."""
    said = whole_words(reading(facts, voice), size, voice.ellipsis)
    at = size // 2
    if facts.range_c is not None and facts.beer.value is not None:
        at = column(facts.beer.value, *domain(facts.range_c), size)
    start = place(said, at, size)
    return Span(" " * start), Span(said, pen_ink(facts))


def below(facts: LaneFacts, size: int, voice: Voice) -> Line:
    """The range's ends and the set point, under their places."""
    if facts.range_c is None:
        return EMPTY
    low, high = domain(facts.range_c)
    row = [" "] * size
    marks = [(edge, voice.bare_temperature(edge)) for edge in facts.range_c]
    if facts.set_point_c is not None:
        marks.append((facts.set_point_c, f"set {voice.bare_temperature(facts.set_point_c)}"))
    for value, label in marks:
        start = place(label, column(value, low, high, size), size)
        around = row[max(start - 1, 0) : start + len(label) + 1]
        if all(cell == " " for cell in around):
            row[start : start + len(label)] = label
    return (Span("".join(row), Ink.FAINT),)
