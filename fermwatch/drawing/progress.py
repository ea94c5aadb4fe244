"""The way of gravity, from original at the left toward where it should end, with the end's uncertainty."""

from fermwatch.drawing.glyphs import Glyphs
from fermwatch.drawing.lines import EMPTY, Line, Span, cells, ends, merge, whole_words
from fermwatch.drawing.scale import place
from fermwatch.saying.facts import LaneFacts
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice

# Beyond the lowest expected end, as a share of the way: a beer that goes lower is seen to.
BEYOND = 0.06


def share(gravity_sg: float, facts: LaneFacts) -> float:
    """How far along the bar a gravity is, 0..1."""
    if facts.original_sg is None or facts.ending is None:
        return 0.0
    whole = (facts.original_sg - facts.ending.low_sg) * (1.0 + BEYOND)
    return min(max((facts.original_sg - gravity_sg) / whole, 0.0), 1.0) if whole > 0 else 0.0


def _column(gravity_sg: float, facts: LaneFacts, size: int) -> int:
    return min(int(share(gravity_sg, facts) * size), size - 1)


def bar(facts: LaneFacts, size: int, glyphs: Glyphs) -> Line:
    """One row: passed, the beer as a pen, still ahead, and the stretch in which it should end."""
    if facts.original_sg is None or facts.ending is None:
        return (Span(glyphs.ahead * size, Ink.FAINT),)
    drawn = [Span(glyphs.ahead, Ink.FAINT)] * size
    first, last = _column(facts.ending.high_sg, facts, size), _column(facts.ending.low_sg, facts, size)
    drawn[first : last + 1] = [Span(glyphs.uncertain, Ink.FAINT)] * (last + 1 - first)
    if facts.ending.most_sg is not None:
        drawn[_column(facts.ending.most_sg, facts, size)] = Span(glyphs.likely, Ink.PLAIN)
    if facts.gravity.value is not None:
        at = _column(facts.gravity.value, facts, size)
        drawn[:at] = [Span(glyphs.passed, Ink.PLAIN)] * at
        stale = facts.gravity.old
        drawn[at] = Span(glyphs.pen_stale if stale else glyphs.pen, Ink.FAINT if stale else Ink.STRONG)
    return merge(tuple(drawn))


def reading(facts: LaneFacts, voice: Voice) -> str:
    if facts.gravity.value is None:
        return f"- {facts.gravity.remark}".strip()
    return f"{voice.gravity(facts.gravity.value)} {facts.gravity.remark}".strip()


def above(facts: LaneFacts, size: int, voice: Voice) -> Line:
    """The reading, riding over the pen."""
    said = whole_words(reading(facts, voice), size, voice.ellipsis)
    at = _column(facts.gravity.value, facts, size) if facts.gravity.value is not None else size // 2
    stale = facts.gravity.value is None or facts.gravity.old
    return Span(" " * place(said, at, size)), Span(said, Ink.FAINT if stale else Ink.STRONG)


def below(facts: LaneFacts, size: int, voice: Voice) -> Line:
    """Original gravity at the left, the way in per cent between, the expected end at the right."""
    if facts.original_sg is None or facts.ending is None:
        return EMPTY
    end = voice.gravity_range(facts.ending.low_sg, facts.ending.high_sg)
    start = voice.bare_gravity(facts.original_sg)
    if facts.attenuation is not None:
        said = f"{max(facts.attenuation, 0.0):.0%}"
        room = size - cells(start) - cells(end)
        if room >= cells(said) + 4:
            start = start + " " * ((room - cells(said)) // 2) + said
    return ends((Span(start, Ink.FAINT),), (Span(end, Ink.FAINT),), size, voice.ellipsis)
