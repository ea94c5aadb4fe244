"""The page of what is done about one fermenter's temperature: whether it manages, the last day drawn, the plan, and by
whose word.
"""

from fermwatch.contracts.feed import Lane, Snapshot
from fermwatch.drawing import ferment
from fermwatch.drawing.ferment import Ferment
from fermwatch.drawing.lanes import Pen
from fermwatch.drawing.lines import EMPTY, GAP, Line, Span, cells, cut_line, wrap
from fermwatch.drawing.page import CURSOR, Sheet, showable
from fermwatch.model.degree import Degree
from fermwatch.saying import planned
from fermwatch.saying.facts import lane_facts
from fermwatch.saying.ink import Ink
from fermwatch.saying.planned import PlanView, StepSaid
from fermwatch.saying.regulating import Regulation

LABEL = 9
LONG = 12  # rows of one text: all of it
FIGURE = (6, 14)  # rows
SMALL = 16  # rows of a sheet: with fewer, the words alone
DONE = 6  # lines of what was done last


def lines(picture: Ferment, said: Regulation, view: PlanView | None, snapshot: Snapshot, sheet: Sheet) -> list[Line]:
    voice = sheet.voice(snapshot)
    pen = Pen(voice, sheet.glyphs, snapshot.now, max(sheet.width - CURSOR, 20))
    above = [*_title(picture.lane, pen), EMPTY, *_headline(said, pen), EMPTY, *_rows(said, pen)]
    below = [*_plan(view, pen), *_by(picture, said, pen), *_done(said, pen)]
    room = min(max(sheet.height - len(above) - len(below) - 1, FIGURE[0]), FIGURE[1])
    drawn: list[Line] = []
    if picture.lane.batch is not None and sheet.height >= SMALL:
        drawn = [EMPTY, *ferment.regulated(picture, pen.width, room, voice, sheet.glyphs)]
    indented = [(Span(" " * CURSOR), *line) for line in (*above, *drawn, *below)]
    return showable([cut_line(line, sheet.width, voice.ellipsis) for line in indented], sheet)


def _title(lane: Lane, pen: Pen) -> list[Line]:
    """In one row, or its beer in the next."""
    facts = lane_facts(lane, pen.now, pen.voice)
    about = pen.voice.dot.join(part for part in (facts.batch, facts.day) if part)
    if cells(facts.name) + cells(about) + GAP <= pen.width:
        return [(Span(facts.name, Ink.STRONG), Span(f"  {about}"))]
    return [
        (Span(facts.name, Ink.STRONG),),
        *((Span(row),) for row in wrap(about, pen.width, LONG, pen.voice.ellipsis)),
    ]


def _headline(said: Regulation, pen: Pen) -> list[Line]:
    """Whether it manages, and what to do."""
    mark = f"{said.headline.mark} " if said.headline.mark else ""
    ink = said.headline.ink if said.headline.mark else Ink.STRONG
    rows = [(Span(row, ink),) for row in wrap(f"{mark}{said.headline.text}", pen.width, LONG, pen.voice.ellipsis)]
    return [*rows, *((Span(row),) for row in wrap(said.to_do, pen.width, LONG, pen.voice.ellipsis))]


def _rows(said: Regulation, pen: Pen) -> list[Line]:
    found: list[Line] = []
    for name, text in said.rows:
        for row, part in enumerate(wrap(text, pen.width - LABEL, LONG, pen.voice.ellipsis)):
            found.append((Span((name if row == 0 else "").ljust(LABEL), Ink.FAINT), Span(part)))
    return found


def _plan(view: PlanView | None, pen: Pen) -> list[Line]:
    if view is None:
        return []
    name = view.progress.plan.name
    title = f"plan {pen.voice.text(name, 40)}" if name else "plan"
    steps = planned.steps_said(view, pen.now, pen.voice)
    size = max(cells(one.text) for one in steps)
    found = [line for one in steps for line in _step(one, min(size, pen.width // 2), pen)]
    over = planned.over_at(view, pen.now)
    if over is not None:
        when = planned.when_words(over, pen.now, pen.voice)
        found.append((Span(f"{'':3}{'over':<{min(size, pen.width // 2) + 2}}{when}", Ink.FAINT),))
    return [EMPTY, (Span(title, Ink.FAINT),), *found]


def _step(one: StepSaid, size: int, pen: Pen) -> list[Line]:
    """The step's words at the left, when and what it waits for at the right, both hanging under themselves."""
    when = f"{one.when}, waits for {one.waits}" if one.waits else one.when
    left = wrap(one.text, size, LONG, pen.voice.ellipsis)
    right = wrap(when, max(pen.width - size - 5, 8), LONG, pen.voice.ellipsis)
    rows: list[Line] = []
    for row in range(max(len(left), len(right))):
        number = f"{one.number:<3}" if row == 0 else "   "
        text = left[row] if row < len(left) else ""
        then = right[row] if row < len(right) else ""
        rows.append((Span(f"{number}{text}{' ' * (size - cells(text) + 2)}{then}", one.ink),))
    return rows


def _by(picture: Ferment, said: Regulation, pen: Pen) -> list[Line]:
    armed = any(one.degree is not Degree.OBSERVE for one in picture.lane.controllers)
    told = [*said.by, *(["o lets it be, at once: nothing is written any more."] if armed else [])]
    rows = [(Span(row),) for text in told for row in wrap(text, pen.width, LONG, pen.voice.ellipsis)]
    return [EMPTY, (Span("by whose word", Ink.FAINT),), *rows] if rows else []


def _done(said: Regulation, pen: Pen) -> list[Line]:
    shown = said.done[:DONE]
    rows = [(Span(row),) for text in shown for row in wrap(text, pen.width, LONG, pen.voice.ellipsis)]
    return [EMPTY, (Span("done last", Ink.FAINT),), *rows] if rows else []
