"""The beers in their packages: what stands of each, and what to do about it."""

from dataclasses import dataclass
from typing import ClassVar

from fermwatch.contracts.feed import Query
from fermwatch.dashboard.events import Happening
from fermwatch.dashboard.known import Known
from fermwatch.drawing import page
from fermwatch.drawing.page import Drawn, Sheet
from fermwatch.model.finding import Alarm

FOOTER = 1  # row


@dataclass(frozen=True, slots=True)
class Packages:
    """subject: what its opener calls them."""

    NAME: ClassVar[str] = "packages"
    SCROLLS: ClassVar[bool] = True
    subject: str

    def about(self, _known: Known) -> str:
        return self.subject

    def absorb(self, _event: Happening, _known: Known) -> "Packages":
        return self

    def draw(self, known: Known, width: int, height: int) -> Drawn:
        from fermwatch.drawing import packages  # not before they are opened

        sheet = Sheet(width, max(height - FOOTER, 1), known.ascii, known.units)
        if known.snapshot is None or not known.snapshot.in_package:
            return page.message("No beer stands in its package", [], sheet)
        lines = packages.lines(known.snapshot, sheet)
        return Drawn(tuple(lines), (-1,) * len(lines))

    def wants(self, _known: Known) -> tuple[Query, ...]:
        return ()

    def waiting(self, known: Known) -> tuple[Alarm, ...]:
        return known.waiting_in_packages()
