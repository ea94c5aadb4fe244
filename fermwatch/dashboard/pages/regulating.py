"""What is done about one fermenter's temperature: what it should be, is, and whether the fridge manages; the plan."""

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import ClassVar

from fermwatch.clock import EPOCH
from fermwatch.contracts.feed import (
    Curves,
    CurvesAnswer,
    CurvesQuery,
    JournalAnswer,
    JournalQuery,
    Lane,
    Query,
    Snapshot,
)
from fermwatch.dashboard.events import CursorMoved, Happening
from fermwatch.dashboard.known import Known
from fermwatch.drawing import page
from fermwatch.drawing.page import Drawn, Sheet
from fermwatch.model.finding import Alarm
from fermwatch.model.subject import About
from fermwatch.model.window import QUARTER, Window

FOOTER = 1  # row
BEHIND, AHEAD = timedelta(hours=24), timedelta(hours=6)
COLUMNS = 120
LINES = 12


@dataclass(frozen=True, slots=True)
class Regulating:
    NAME: ClassVar[str] = "controller"
    SCROLLS: ClassVar[bool] = True
    vessel: str

    def about(self, _known: Known) -> str:
        return self.vessel

    def absorb(self, event: Happening, known: Known) -> "Regulating":
        return replace(self, vessel=known.beside(self.vessel, event.by)) if isinstance(event, CursorMoved) else self

    def draw(self, known: Known, width: int, height: int) -> Drawn:
        sheet = Sheet(width, max(height - FOOTER, 1), known.ascii, known.units)
        lane, snapshot = known.lane(self.vessel), known.snapshot
        if snapshot is None or lane is None:
            return page.message("Nothing is known of this fermenter yet", [], replace(sheet, height=0))
        from fermwatch.drawing import regulating  # not before the page is opened
        from fermwatch.drawing.ferment import Ferment
        from fermwatch.saying.planned import view_of
        from fermwatch.saying.regulating import regulation

        answer = known.answer(self._query(lane, snapshot))
        curves = answer.curves if isinstance(answer, CurvesAnswer) and answer.query.vessel == lane.vessel.slug else None
        journal = known.answer(JournalQuery())
        entries = journal.entries if isinstance(journal, JournalAnswer) else ()
        now = snapshot.now
        said = regulation(lane, now, sheet.voice(snapshot), curves, entries)
        window = _window(snapshot)
        picture = Ferment(lane, curves or Curves(window), window, (), None, now)
        view = view_of(lane.batch, lane.judgement, lane.events, now)
        lines = regulating.lines(picture, said, view, snapshot, sheet)
        return Drawn(tuple(lines), (-1,) * len(lines))

    def _query(self, lane: Lane, snapshot: Snapshot) -> CurvesQuery:
        since = None if lane.batch is None else lane.batch.pitched_at
        return CurvesQuery(lane.vessel.slug, _window(snapshot), since)

    def wants(self, known: Known) -> tuple[Query, ...]:
        lane = known.lane(self.vessel)
        if lane is None or known.snapshot is None:
            return ()
        asked: tuple[Query, ...] = (self._query(lane, known.snapshot),)
        if lane.controllers:
            asked = (*asked, JournalQuery(LINES, subject=About.CONTROLLER.of(lane.controllers[0].name)))
        return asked

    def waiting(self, known: Known) -> tuple[Alarm, ...]:
        return known.waiting(known.lane(self.vessel))


def _window(snapshot: Snapshot) -> Window:
    """A day that has been and some hours to come, so that the plan's next step stands in it."""
    now = snapshot.now - (snapshot.now - EPOCH) % QUARTER
    return Window(now - BEHIND, now + AHEAD, COLUMNS)
