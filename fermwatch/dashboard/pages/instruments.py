"""How the instruments do: probes, sources, watcher, store and the ways to people."""

from dataclasses import dataclass
from typing import ClassVar

from fermwatch.contracts.feed import HealthAnswer, HealthQuery, Query
from fermwatch.dashboard.events import Happening
from fermwatch.dashboard.known import Known
from fermwatch.drawing import page
from fermwatch.drawing.page import Drawn, Sheet
from fermwatch.model.finding import Alarm

FOOTER = 1  # row


@dataclass(frozen=True, slots=True)
class Instruments:
    """subject: what the page below is about, which this one is not."""

    NAME: ClassVar[str] = "health"
    SCROLLS: ClassVar[bool] = True
    subject: str = ""

    def about(self, _known: Known) -> str:
        return self.subject

    def absorb(self, _event: Happening, _known: Known) -> "Instruments":
        return self

    def draw(self, known: Known, width: int, height: int) -> Drawn:
        from fermwatch.drawing import health  # not before the page is opened

        sheet = Sheet(width, max(height - FOOTER, 1), known.ascii, known.units)
        if known.snapshot is None:
            return page.message("Nothing is known of the instruments yet", [], sheet)
        answer = known.answer(HealthQuery())
        lines = health.lines(known.snapshot, answer if isinstance(answer, HealthAnswer) else None, sheet)
        return Drawn(tuple(lines), (-1,) * len(lines))

    def wants(self, _known: Known) -> tuple[Query, ...]:
        return (HealthQuery(),)

    def waiting(self, known: Known) -> tuple[Alarm, ...]:
        return known.waiting(None)
