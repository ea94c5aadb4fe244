"""The beers in their packages: what stands of each, and what to do about it."""

from dataclasses import dataclass, replace
from typing import ClassVar

from fermwatch.contracts.feed import InPackage, Query
from fermwatch.dashboard.events import Happening, LanePicked, MarkStepped, PageOpened
from fermwatch.dashboard.known import Known
from fermwatch.drawing import page
from fermwatch.drawing.page import Drawn, Sheet
from fermwatch.model.finding import Alarm

FOOTER = 1  # row


@dataclass(frozen=True, slots=True)
class Packages:
    """subject: what its opener calls them. batch_id: of the beer under the cursor; the first one's where there is none
    of it, so that a key for one beer needs no other key before it."""

    NAME: ClassVar[str] = "packages"
    SCROLLS: ClassVar[bool] = True
    subject: str
    batch_id: str = ""

    def about(self, known: Known) -> str:
        """The beer under the cursor."""
        beers = self._beers(known)
        return beers[self._place(known)].batch.id if beers else self.subject

    def absorb(self, event: Happening, known: Known) -> "Packages | PageOpened":
        beers = self._beers(known)
        match event:
            case MarkStepped(by) if beers:
                place = min(max(self._place(known) + by, 0), len(beers) - 1)
                return replace(self, batch_id=beers[place].batch.id)
            case LanePicked(number) if number < len(beers):
                return replace(self, batch_id=beers[number].batch.id)
            case _:
                return self

    def _beers(self, known: Known) -> list[InPackage]:
        return [] if known.snapshot is None else page.in_order(known.snapshot)

    def _place(self, known: Known) -> int:
        ids = [one.batch.id for one in self._beers(known)]
        return ids.index(self.batch_id) if self.batch_id in ids else 0

    def draw(self, known: Known, width: int, height: int) -> Drawn:
        from fermwatch.drawing import packages  # not before they are opened

        sheet = Sheet(width, max(height - FOOTER, 1), known.ascii, known.units)
        if known.snapshot is None or not known.snapshot.in_package:
            return page.message("No beer stands in its package", [], sheet)
        return packages.draw(known.snapshot, sheet, self._place(known))

    def wants(self, _known: Known) -> tuple[Query, ...]:
        return ()

    def waiting(self, known: Known) -> tuple[Alarm, ...]:
        return known.waiting_in_packages()
