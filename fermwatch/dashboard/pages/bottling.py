"""May this beer be packaged, what is missing, and how hard it would get in what: turned by keys."""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, ClassVar

from fermwatch.contracts.feed import FillingAnswer, FillingQuery, InPackage, Lane, Query, Snapshot
from fermwatch.dashboard.events import CursorMoved, DialPicked, DialTurned, Happening, PageOpened, Wish
from fermwatch.dashboard.known import Known
from fermwatch.drawing import page
from fermwatch.drawing.page import Drawn, Sheet
from fermwatch.model.batch import Batch
from fermwatch.model.finding import Alarm

if TYPE_CHECKING:
    from fermwatch.contracts.filling import Ground
    from fermwatch.desk.bottling_words import Reckoned
    from fermwatch.desk.choosing import Dial, Tried
    from fermwatch.drawing.bottling import BottlingStory

FOOTER = 1  # row


@dataclass(frozen=True, slots=True)
class Bottling:
    """subject: a fermenter, else one of the packaged beers, else all of them.

    tried: None for the batch's own package. dial: the number of what the keys turn. why: with the numbers.
    """

    NAME: ClassVar[str] = "bottling"
    SCROLLS: ClassVar[bool] = True
    subject: str
    tried: "Tried | None" = None
    dial: int = 0
    why: bool = False

    def about(self, _known: Known) -> str:
        return self.subject

    def _lane(self, known: Known) -> Lane | None:
        return next((one for one in known.lanes if one.vessel.slug == self.subject), None)

    def absorb(self, event: Happening, known: Known) -> "Bottling | PageOpened":
        lane = self._lane(known)
        match event:
            case Wish.WHY:
                return replace(self, why=not self.why)
            case CursorMoved(by) if lane is not None:
                return Bottling(known.beside(self.subject, by), why=self.why)
            case DialPicked(by) if lane is not None and lane.batch is not None:
                return replace(self, dial=(self._place(known, lane.batch) + by) % len(self._dials(known, lane.batch)))
            case DialTurned(0):
                return replace(self, tried=None)
            case DialTurned(by) if lane is not None and lane.batch is not None:
                return replace(self, tried=self._turned(by, known, lane.batch))
            case _:
                return self

    def _turned(self, by: int, known: Known, batch: Batch) -> "Tried":
        from fermwatch.desk.choosing import turned

        return turned(self._tried(batch), self._dials(known, batch)[self._place(known, batch)], by, batch)

    def _tried(self, batch: Batch) -> "Tried":
        from fermwatch.desk.choosing import USUAL, Tried

        return self.tried or Tried(batch.package or USUAL)

    def _dials(self, known: Known, batch: Batch) -> "tuple[Dial, ...]":
        from fermwatch.desk.bottling_words import dials

        return dials(self._ground(known, batch), self._tried(batch))

    def _place(self, known: Known, batch: Batch) -> int:
        return min(self.dial, len(self._dials(known, batch)) - 1)

    def _answer(self, known: Known, batch: Batch) -> FillingAnswer | None:
        """The newest of this batch: of another package as long as this one is being judged."""
        answer = known.answers.get(FillingQuery)
        found = isinstance(answer, FillingAnswer) and answer.query.batch_id == batch.id
        return answer if found and isinstance(answer, FillingAnswer) else None

    def _ground(self, known: Known, batch: Batch) -> "Ground | None":
        answer = self._answer(known, batch)
        return None if answer is None else answer.ground

    def draw(self, known: Known, width: int, height: int) -> Drawn:
        from fermwatch.drawing import bottling  # not before somebody bottles

        sheet = Sheet(width, max(height - FOOTER, 1), known.ascii, known.units)
        lane, snapshot = self._lane(known), known.snapshot
        if snapshot is None:
            return page.message("Nothing is known of this beer yet", [], sheet)
        if lane is not None and lane.batch is not None:
            story = self._to_fill(lane, lane.batch, known, snapshot, sheet)
        else:
            beers = self._packaged(snapshot)
            if not beers:
                return page.message("No beer is in it", ["Pitched one? Write it in: i on the overview."], sheet)
            story = self._filled(lane, beers, snapshot, sheet)
        lines = bottling.lines(story, sheet, sheet.voice(snapshot))
        return Drawn(tuple(lines), (-1,) * len(lines))

    def _to_fill(self, lane: Lane, batch: Batch, known: Known, snapshot: Snapshot, sheet: Sheet) -> "BottlingStory":
        from fermwatch.desk import bottling_words

        voice, tried, answer = sheet.voice(snapshot), self._tried(batch), self._answer(known, batch)
        ground = None if answer is None else answer.ground
        own = tried.choice == batch.package
        fresh = answer is not None and answer.query.choice == tried.choice
        if ground is not None:
            reckoned = _reckoned(_ById(ground), tried)
        else:
            reckoned = bottling_words.Reckoned(batch, None if answer is None else answer.refused)
        judged = ground.judged if ground is not None and fresh else lane.judgement if own or ground is None else None
        story = bottling_words.to_fill(lane, judged, reckoned, tried, voice, snapshot.now)
        if judged is None and ground is not None:
            story = replace(story, said=bottling_words.JUDGING)
        there = self._dials(known, batch)
        here = there[self._place(known, batch)]
        story = replace(story, turnables=bottling_words.turnables(tried, batch, there, here, voice), why=self.why)
        more = bottling_words.because(reckoned.day, voice) if self.why else ()
        return replace(story, reckoned=(*story.reckoned, *more))

    def _packaged(self, snapshot: Snapshot) -> list[InPackage]:
        """The beers out of this fermenter, or the one that is meant; where neither is, all of them."""
        mine = [one for one in snapshot.in_package if self.subject in {one.batch.id, one.batch.vessel}]
        named = any(one.vessel.slug == self.subject for one in snapshot.lanes)
        return mine if mine or named else list(snapshot.in_package)

    def _filled(self, lane: Lane | None, beers: list[InPackage], snapshot: Snapshot, sheet: Sheet) -> "BottlingStory":
        from fermwatch.desk import bottling_words

        voice = sheet.voice(snapshot)
        return bottling_words.packaged(lane, beers, voice, snapshot.now)

    def wants(self, known: Known) -> tuple[Query, ...]:
        lane = self._lane(known)
        if lane is None or lane.batch is None:
            return ()
        judged = None if lane.judgement is None else lane.judgement.at
        said = sum(not one.voided for one in lane.measurements), sum(not one.voided for one in lane.events)
        return (FillingQuery(lane.batch.id, self._tried(lane.batch).choice, (judged, lane.batch.version, *said)),)

    def waiting(self, known: Known) -> tuple[Alarm, ...]:
        lane = self._lane(known)
        return known.waiting_in_packages() if lane is None else known.waiting(lane)


@lru_cache(maxsize=64)
def _reckoned(ground: "_ById", tried: "Tried") -> "Reckoned":
    from fermwatch.desk.bottling_words import reckoned

    return reckoned(ground.ground.batch, ground.ground, tried)


class _ById:
    """A ground by its identity: its parts are many, and some are no keys."""

    def __init__(self, ground: "Ground") -> None:
        self.ground = ground

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _ById) and other.ground is self.ground

    def __hash__(self) -> int:
        return id(self.ground)
