"""What a page is. Nothing else in the dashboard knows which ones there are."""

from typing import ClassVar, Protocol

from fermwatch.contracts.feed import Query
from fermwatch.dashboard.events import AskQuiet, FormOpened, Happening, PageOpened
from fermwatch.dashboard.known import Known
from fermwatch.drawing.page import Drawn
from fermwatch.model.finding import Alarm


class Page(Protocol):
    """A page's state: frozen, and compared by value."""

    NAME: ClassVar[str]
    SCROLLS: ClassVar[bool]  # drawn as long as it is, and scrolled through; else drawn to the height that there is

    def about(self, known: Known) -> str:
        """The fermenter that it is about, or where its cursor is: what a page opened from here will be about."""

    def absorb(self, event: Happening, known: Known) -> "Page | PageOpened | FormOpened | AskQuiet":
        """The page after the event, the page or form that it leads to, or what a person is asked."""

    def draw(self, known: Known, width: int, height: int) -> Drawn: ...
    def wants(self, known: Known) -> tuple[Query, ...]:
        """What it would have read from the store beyond the snapshot, one of a kind; answered into `known.answers`."""

    def waiting(self, known: Known) -> tuple[Alarm, ...]:
        """The unseen alarms that the key for them is about here."""
