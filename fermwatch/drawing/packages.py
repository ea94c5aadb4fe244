"""Beers in their packages, with all that concerns them, as lines to be scrolled through."""

from fermwatch.contracts.feed import InPackage, Snapshot
from fermwatch.drawing.lanes import Pen, alarm_lines
from fermwatch.drawing.lines import EMPTY, Line, Span, cut_line, wrap
from fermwatch.drawing.page import CURSOR, Drawn, Sheet, in_order, showable
from fermwatch.saying import in_package
from fermwatch.saying.facts import alarm_facts, worth_showing
from fermwatch.saying.ink import Ink

WIDEST = 120
WHOLE = 40  # rows: the page scrolls, so that no caution is cut


def draw(snapshot: Snapshot, sheet: Sheet, picked: int = -1) -> Drawn:
    """Every one of them, as they stand on the overview. picked: the number of the one under the cursor, -1 for none."""
    voice = sheet.voice(snapshot)
    pen = Pen(voice, sheet.glyphs, snapshot.now, min(max(sheet.width - CURSOR - 1, 20), WIDEST))
    told: list[Line] = []
    owners: list[int] = []
    for number, one in enumerate(in_order(snapshot)):
        first, *rest = beer_lines(one, pen)
        cursor = Span(sheet.glyphs.cursor.ljust(CURSOR), Ink.PICK) if number == picked else Span(" " * CURSOR)
        told += [(cursor, *first), *((Span(" " * CURSOR), *line) for line in (*rest, EMPTY))]
        owners += [number] * (len(rest) + 2)
    lines = showable([cut_line(line, sheet.width, voice.ellipsis) for line in told], sheet)
    return Drawn(tuple(lines), tuple(owners), picked)


def beer_lines(one: InPackage, pen: Pen) -> list[Line]:
    """Its name, its alarms and what there is to say of it."""
    told: list[Line] = [(Span(pen.voice.text(one.batch.name), Ink.STRONG),)]
    for alarm in worth_showing(one.alarms):
        told += alarm_lines(alarm_facts(alarm, pen.now, pen.voice), pen, WHOLE)
    for _, said in in_package.rows(one, pen.now, pen.voice):
        told += [(Span(text),) for text in wrap(said, pen.width, WHOLE, pen.voice.ellipsis)]
    return told
