"""Every batch there was, the newest first, any of them to be opened; and two of them side by side."""

from dataclasses import dataclass, replace
from typing import ClassVar

from fermwatch.contracts.feed import FiguresAnswer, FiguresQuery, Query
from fermwatch.contracts.figures import BatchFigures
from fermwatch.dashboard.events import Happening, LanePicked, MarkStepped, PageOpened, Wish
from fermwatch.dashboard.known import Known
from fermwatch.drawing import page
from fermwatch.drawing.page import Drawn, Sheet
from fermwatch.model.finding import Alarm

FOOTER = 1  # row
BETWEEN = " "  # of two identities, which hold none


@dataclass(frozen=True, slots=True)
class Batches:
    """subject: of the page that it was opened from: its batch is under the cursor at first. batch_id: under the cursor.

    beside: the batch that another is to be laid beside; empty for none.
    """

    NAME: ClassVar[str] = "batches"
    SCROLLS: ClassVar[bool] = True
    subject: str
    batch_id: str = ""
    beside: str = ""

    def about(self, known: Known) -> str:
        """The batch under the cursor."""
        batches = _answered(FiguresQuery(), known)
        return batches[self._place(batches, known)].batch.id if batches else known.batch_of(self.subject)

    def absorb(self, event: Happening, known: Known) -> "Batches | PageOpened":
        batches = _answered(FiguresQuery(), known)
        match event:
            case MarkStepped(by) if batches:
                place = min(max(self._place(batches, known) + by, 0), len(batches) - 1)
                return replace(self, batch_id=batches[place].batch.id)
            case LanePicked(number) if number < len(batches):
                return replace(self, batch_id=batches[number].batch.id)
            case Wish.BESIDE if batches:
                return self._laid_beside(batches[self._place(batches, known)].batch.id)
            case _:
                return self

    def _laid_beside(self, batch_id: str) -> "Batches | PageOpened":
        """The first is marked; with the second both are shown."""
        if not self.beside or self.beside == batch_id:
            return replace(self, beside="" if self.beside else batch_id, batch_id=batch_id)
        return PageOpened(Beside.NAME, f"{self.beside}{BETWEEN}{batch_id}")

    def _place(self, batches: tuple[BatchFigures, ...], known: Known) -> int:
        ids = [one.batch.id for one in batches]
        wanted = self.batch_id or known.batch_of(self.subject)
        return ids.index(wanted) if wanted in ids else 0

    def draw(self, known: Known, width: int, height: int) -> Drawn:
        from fermwatch.drawing import batch_list  # not before it is opened

        sheet = Sheet(width, max(height - FOOTER, 1), known.ascii, known.units)
        batches = _answered(FiguresQuery(), known)
        if known.snapshot is None or not batches:
            return page.message("No batch yet", ["Pitched one? Write it in: esc, then i"], sheet)
        return batch_list.draw(batches, known.snapshot, sheet, self._place(batches, known), self.beside)

    def wants(self, _known: Known) -> tuple[Query, ...]:
        return (FiguresQuery(),)

    def waiting(self, known: Known) -> tuple[Alarm, ...]:
        return known.waiting_in_packages()


@dataclass(frozen=True, slots=True)
class Beside:
    """subject: the identities of both."""

    NAME: ClassVar[str] = "beside"
    SCROLLS: ClassVar[bool] = True
    subject: str

    def about(self, _known: Known) -> str:
        return self.subject.split(BETWEEN)[0]

    def absorb(self, _event: Happening, _known: Known) -> "Beside | PageOpened":
        return self

    def draw(self, known: Known, width: int, height: int) -> Drawn:
        from fermwatch.drawing import batch_list

        sheet = Sheet(width, max(height - FOOTER, 1), known.ascii, known.units)
        batches = _answered(self._query, known)
        if known.snapshot is None or not batches:
            return page.message("Reading what is known of both", [], sheet)
        return batch_list.beside(batches, known.snapshot, sheet)

    @property
    def _query(self) -> FiguresQuery:
        return FiguresQuery(tuple(self.subject.split(BETWEEN)))

    def wants(self, _known: Known) -> tuple[Query, ...]:
        return (self._query,)

    def waiting(self, known: Known) -> tuple[Alarm, ...]:
        return known.waiting_in_packages()


def _answered(query: FiguresQuery, known: Known) -> tuple[BatchFigures, ...]:
    answer = known.answer(query)
    return answer.batches if isinstance(answer, FiguresAnswer) and answer.query == query else ()
