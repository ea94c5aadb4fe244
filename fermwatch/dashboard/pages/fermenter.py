"""One fermenter with the evidence for all that is said of it."""

from dataclasses import dataclass, replace
from typing import ClassVar

from fermwatch.contracts.feed import Query
from fermwatch.dashboard.events import CursorMoved, Happening, PageOpened
from fermwatch.dashboard.known import Known
from fermwatch.drawing import page
from fermwatch.drawing.page import Drawn, Sheet
from fermwatch.model.finding import Alarm


@dataclass(frozen=True, slots=True)
class Fermenter:
    NAME: ClassVar[str] = "fermenter"
    SCROLLS: ClassVar[bool] = True
    vessel: str

    def about(self, _known: Known) -> str:
        return self.vessel

    def absorb(self, event: Happening, known: Known) -> "Fermenter | PageOpened":
        match event:
            case CursorMoved(by):
                return replace(self, vessel=known.beside(self.vessel, by))
            case _:
                return self

    def draw(self, known: Known, width: int, _height: int) -> Drawn:
        sheet = Sheet(width, 0, known.ascii, known.units)
        lane = known.lane(self.vessel)
        if known.snapshot is None or lane is None:
            return page.message("Nothing is known of this fermenter yet", [], sheet)
        from fermwatch.drawing import detail

        lines = detail.lane_lines(lane, known.snapshot, sheet)
        return Drawn(tuple(lines), (-1,) * len(lines))

    def wants(self, _known: Known) -> tuple[Query, ...]:
        return ()

    def waiting(self, known: Known) -> tuple[Alarm, ...]:
        return known.waiting(known.lane(self.vessel))
