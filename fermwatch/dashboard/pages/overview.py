"""The overview: is everything all right, and where am I needed?"""

from dataclasses import dataclass, replace
from typing import ClassVar

from fermwatch.contracts.feed import Query
from fermwatch.dashboard.events import CameBack, CursorMoved, Happening, LanePicked, PageOpened, Wish
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.fermenter import Fermenter
from fermwatch.dashboard.pages.packages import Packages
from fermwatch.drawing import page
from fermwatch.drawing.page import Drawn, Sheet
from fermwatch.model.finding import Alarm
from fermwatch.saying.ink import Ink
from fermwatch.saying.watch import Said

PACKAGES = "packaged beers"  # under the cursor, below all lanes: no fermenter's slug holds a blank


@dataclass(frozen=True, slots=True)
class Overview:
    """vessel: slug of the lane under the cursor, so that it stays on its fermenter; the first one where there is none
    of this name. PACKAGES where it is on the packaged beers."""

    NAME: ClassVar[str] = "overview"
    SCROLLS: ClassVar[bool] = False
    vessel: str = ""

    def about(self, known: Known) -> str:
        on_packages = self.vessel == PACKAGES or not known.lanes
        return PACKAGES if on_packages and known.has_packages else known.at(known.place(self.vessel))

    def absorb(self, event: Happening, known: Known) -> "Overview | PageOpened":
        match event:
            case CursorMoved(by):
                return replace(self, vessel=self._at(self._place(known) + by, known))
            case LanePicked(number):
                picked = self._at(number, known)
                return self._opened(known) if picked == self.about(known) else replace(self, vessel=picked)
            case Wish.OPEN:
                return self._opened(known)
            case CameBack(subject):
                here = subject == PACKAGES or any(one.vessel.slug == subject for one in known.lanes)
                return replace(self, vessel=subject) if here else self
            case _:
                return self

    def _place(self, known: Known) -> int:
        """The packaged beers stand after the last lane."""
        about = self.about(known)
        return len(known.lanes) if about == PACKAGES else known.place(about)

    def _at(self, number: int, known: Known) -> str:
        return PACKAGES if known.has_packages and number >= len(known.lanes) else known.at(number)

    def _opened(self, known: Known) -> PageOpened:
        return PageOpened(Packages.NAME if self.about(known) == PACKAGES else Fermenter.NAME)

    def draw(self, known: Known, width: int, height: int) -> Drawn:
        """A store that cannot be read is said above what was last read."""
        sheet = Sheet(width, height, known.ascii, known.units)
        if known.snapshot is None:
            return _waiting(known, sheet)
        selected = self._place(known)
        if known.failure is None:
            return page.overview(known.snapshot, sheet, selected)
        voice = sheet.voice(known.snapshot)
        said = voice.text(f"{known.failure.message} {known.failure.hint}".strip())
        below = page.overview(known.snapshot, replace(sheet, height=height - 1), selected)
        return page.headed(Said(said, Ink.CRITICAL, "!!"), below, sheet)

    def wants(self, _known: Known) -> tuple[Query, ...]:
        return ()

    def waiting(self, known: Known) -> tuple[Alarm, ...]:
        if self.about(known) == PACKAGES:
            return known.waiting_in_packages() or known.waiting(None)
        return known.waiting(known.lane(self.vessel))


def _waiting(known: Known, sheet: Sheet) -> Drawn:
    if known.failure is None:
        return page.message("Reading the store", [], sheet, Ink.FAINT)
    rows = [known.failure.hint, "", "It is tried again every few seconds."]
    return page.message(f"!! {known.failure.message}", rows, sheet, Ink.CRITICAL)
