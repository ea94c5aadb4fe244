"""One batch: what was pitched and became of it, and what people did and measured, each entry to be picked."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, ClassVar

from fermwatch.contracts.feed import BatchAnswer, BatchQuery, InPackage, Query
from fermwatch.dashboard.events import FormOpened, Happening, LanePicked, MarkStepped, PageOpened, Wish
from fermwatch.dashboard.known import Known
from fermwatch.drawing import page
from fermwatch.drawing.page import Drawn, Sheet
from fermwatch.model.finding import Alarm

if TYPE_CHECKING:
    from fermwatch.drawing.batch_sheet import BatchStory, Entry

FOOTER = 1  # row


@dataclass(frozen=True, slots=True)
class BatchPage:
    """subject: a fermenter, for the beer in it or the last one out of it; or the identity of a batch.

    entry: the identity of the entry under the cursor; empty for none, or where it is no more.
    """

    NAME: ClassVar[str] = "batch"
    SCROLLS: ClassVar[bool] = True
    subject: str
    entry: str = ""

    def about(self, _known: Known) -> str:
        return self.subject

    def absorb(self, event: Happening, known: Known) -> "BatchPage | PageOpened | FormOpened":
        match event:
            case Wish.VOID if self._told(known) is not None:
                entry = self.picked(known)
                return FormOpened("void", known.batch_of(self.subject), "" if entry is None else entry.id)
            case MarkStepped(by):
                return self._picked(self._place(known) + by, known)
            case LanePicked(number):
                return self._picked(number, known)
            case _:
                return self

    def picked(self, known: Known) -> "Entry | None":
        """The entry under the cursor."""
        story = self._story(known)
        place = self._place(known)
        return None if story is None or place < 0 else story.entries[place]

    def _place(self, known: Known) -> int:
        story = self._story(known)
        entries = () if story is None else story.entries
        return next((place for place, one in enumerate(entries) if one.id == self.entry), -1)

    def _picked(self, number: int, known: Known) -> "BatchPage":
        """The entry of a number; before the first one, none."""
        story = self._story(known)
        if story is None or number < 0 or not story.entries:
            return replace(self, entry="")
        return replace(self, entry=story.entries[min(number, len(story.entries) - 1)].id)

    def draw(self, known: Known, width: int, height: int) -> Drawn:
        from fermwatch.drawing import batch_sheet  # not before a batch is opened

        sheet = Sheet(width, max(height - FOOTER, 1), known.ascii, known.units)
        story = self._story(known)
        if known.snapshot is None or story is None:
            return page.message(*self._missing(known), sheet)
        return batch_sheet.draw(story, known.snapshot, sheet, self._place(known))

    def _missing(self, known: Known) -> tuple[str, list[str]]:
        if not known.batch_of(self.subject):
            return "No beer is in this fermenter", ["Pitched one? Write it in: i"]
        if self._told(known) is not None:
            return "There is no such batch", ["Back to where you came from: esc"]
        return "Reading what is known of this batch", []

    def _story(self, known: Known) -> "BatchStory | None":
        """From the store's answer; until that is there, from the snapshot."""
        from fermwatch.brewing.air import air_bar
        from fermwatch.desk.opening import warnings
        from fermwatch.drawing.batch_sheet import BatchStory, entries_of

        told = self._told(known)
        if told is None or told.batch is None:
            return None
        here = air_bar(lane.vessel for lane in known.lanes)
        doubts = tuple(warnings(told.batch, here)) if told.batch.in_fermenter else ()
        entries = entries_of(told.measurements, told.events)
        return BatchStory(told.batch, told.events, entries, doubts, self._packaged(known))

    def _told(self, known: Known) -> BatchAnswer | None:
        query = BatchQuery(known.batch_of(self.subject))
        answer = known.answer(query)
        if isinstance(answer, BatchAnswer) and answer.query == query:
            return answer
        for lane in known.lanes:
            if lane.batch is not None and lane.batch.id == query.batch_id:
                return BatchAnswer(query, lane.batch, lane.measurements, lane.events, lane.judgement)
        beer = self._packaged(known)
        return None if beer is None else BatchAnswer(query, beer.batch, (), beer.events, beer.judgement)

    def _packaged(self, known: Known) -> InPackage | None:
        beers = () if known.snapshot is None else known.snapshot.in_package
        return next((one for one in beers if one.batch.id == known.batch_of(self.subject)), None)

    def wants(self, known: Known) -> tuple[Query, ...]:
        batch_id = known.batch_of(self.subject)
        return (BatchQuery(batch_id),) if batch_id else ()

    def waiting(self, known: Known) -> tuple[Alarm, ...]:
        lane = next((one for one in known.lanes if one.vessel.slug == self.subject), None)
        return known.waiting_in_packages() if lane is None else known.waiting(lane)
