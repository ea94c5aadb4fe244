"""The page of the instruments: what is not well with its remedy, then each of them on a row."""

from fermwatch.contracts.feed import HealthAnswer, Snapshot
from fermwatch.drawing.lines import EMPTY, Line, Span, cells, cut_line, wrap
from fermwatch.drawing.page import CURSOR, Sheet, showable
from fermwatch.saying.health import Trouble, health
from fermwatch.saying.ink import Ink

LONG = 12  # rows of one text: all of it
LABEL = 18  # cells at the most
ABOVE = 24  # rows of a sheet: with fewer there is no blank between two


def lines(snapshot: Snapshot, answer: HealthAnswer | None, sheet: Sheet) -> list[Line]:
    voice = sheet.voice(snapshot)
    size = max(sheet.width - CURSOR, 20)
    said = health(snapshot, answer, voice)
    found: list[Line] = [(Span(row, Ink.STRONG),) for row in wrap(said.headline, size, LONG, voice.ellipsis)]
    for trouble in said.troubles:
        found += [EMPTY, *_trouble(trouble, size, voice.ellipsis)]
    for name, rows in said.groups:
        found += [EMPTY, (Span(name, Ink.FAINT),)]
        label = min(max(cells(one) for one, _ in rows) + 2, LABEL)
        for one, text in rows:
            found += _row(one, text, label, size, voice.ellipsis)
    indented = [(Span(" " * CURSOR), *line) for line in found]
    return showable([cut_line(line, sheet.width, voice.ellipsis) for line in indented], sheet)


def _trouble(trouble: Trouble, size: int, ellipsis: str) -> list[Line]:
    """Its mark hangs before it; what to do stands below."""
    mark = f"{trouble.mark:<3}" if trouble.mark else "   "
    rows = wrap(trouble.text, size - 3, LONG, ellipsis)
    found: list[Line] = [
        (Span(mark if number == 0 else "   ", trouble.ink), Span(row, trouble.ink)) for number, row in enumerate(rows)
    ]
    return [*found, *((Span(f"   {row}"),) for row in wrap(trouble.remedy, size - 3, LONG, ellipsis))]


def _row(name: str, text: str, label: int, size: int, ellipsis: str) -> list[Line]:
    rows = wrap(text, size - label, LONG, ellipsis) or [""]
    names = wrap(name, label - 2, 2, ellipsis)
    rows += [""] * (len(names) - len(rows))
    names += [""] * (len(rows) - len(names))
    return [(Span(f"{one:<{label}}"), Span(row, Ink.FAINT)) for one, row in zip(names, rows, strict=True)]
