"""One fermenter: its whole ferment on one time axis, to be looked at closer and read, and why what is said is said."""

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, ClassVar

from fermwatch.contracts.feed import (
    BatchQuery,
    Curves,
    CurvesAnswer,
    CurvesQuery,
    InPackage,
    JournalAnswer,
    JournalQuery,
    Lane,
    Query,
)
from fermwatch.dashboard.events import CursorMoved, Happening, MarkStepped, PageOpened, TimeMoved, Wish, Zoomed
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.past import as_it_was, ended_at, out_of
from fermwatch.dashboard.pages.stretch import Stretch
from fermwatch.drawing import page
from fermwatch.drawing.page import Drawn, Sheet
from fermwatch.model.finding import Alarm
from fermwatch.saying.voice import Voice, zone_of

if TYPE_CHECKING:
    from fermwatch.drawing.ferment import Ferment

JOURNAL = JournalQuery(400, "alarm")
FOOTER = 1  # row


@dataclass(frozen=True, slots=True)
class Fermenter:
    """why: whether the evidence is shown in place of the chart."""

    NAME: ClassVar[str] = "fermenter"
    SCROLLS: ClassVar[bool] = True
    vessel: str
    stretch: Stretch = field(default_factory=Stretch)
    why: bool = False

    def about(self, _known: Known) -> str:
        return self.vessel

    def absorb(self, event: Happening, known: Known) -> "Fermenter | PageOpened":
        looked = self._looked_at(known)
        if looked is None:
            return self
        lane, now, _ = looked
        match event:
            case CursorMoved(by):
                return replace(self, vessel=known.beside(self.vessel, by), stretch=Stretch())
            case TimeMoved(steps):
                return replace(self, stretch=self.stretch.moved(steps, lane, now), why=False)
            case Zoomed(by):
                return replace(self, stretch=self.stretch.zoomed(by, lane, now), why=False)
            case MarkStepped(by):
                return replace(self, stretch=self._stepped(by, lane, known, now), why=False)
            case Wish.WHY:
                return replace(self, why=not self.why)
            case _:
                return self

    def _looked_at(self, known: Known) -> tuple[Lane, datetime, InPackage | None] | None:
        """The fermenter as it is now; an empty one as it was on the day that the last beer left it."""
        lane, snapshot = known.lane(self.vessel), known.snapshot
        if lane is None or snapshot is None:
            return None
        left = out_of(lane, known)
        return (
            (lane, snapshot.now, None)
            if left is None
            else (as_it_was(lane, left, known), ended_at(left, snapshot.now), left)
        )

    def _stepped(self, by: int, lane: Lane, known: Known, now: datetime) -> Stretch:
        """On to the next instant at which something happened, or back; past the last one to now."""
        at = self.stretch.at or now
        instants = [one.at for one in self._picture(lane, known, now).marks]
        found = [one for one in instants if one > at] if by > 0 else [one for one in reversed(instants) if one < at]
        return self.stretch.put(found[0], lane, now) if found else self.stretch

    def draw(self, known: Known, width: int, height: int) -> Drawn:
        sheet = Sheet(width, max(height - FOOTER, 1), known.ascii, known.units)
        looked = self._looked_at(known)
        if known.snapshot is None or looked is None:
            return page.message("Nothing is known of this fermenter yet", [], replace(sheet, height=0))
        lane, now, left = looked
        if self.why:
            from fermwatch.drawing import detail

            lines = detail.lane_lines(known.lane(self.vessel) or lane, known.snapshot, sheet)
        else:
            from fermwatch.drawing import told

            picture, whole = self._picture(lane, known, now), self.stretch.span is None
            lines = told.lines(picture, known.snapshot, sheet, left, whole=whole)
        return Drawn(tuple(lines), (-1,) * len(lines))

    def _picture(self, lane: Lane, known: Known, now: datetime) -> "Ferment":
        from fermwatch.drawing.ferment import Ferment  # not before a fermenter is opened
        from fermwatch.saying.corrected import corrected, known_offset
        from fermwatch.saying.fan import fan_of
        from fermwatch.saying.marks import marks

        trend = lane.judgement.trend if lane.judgement is not None else None
        curves = corrected(self._curves(lane, known, now), known_offset(trend))
        journal = known.answer(JOURNAL)
        entries = journal.entries if isinstance(journal, JournalAnswer) else ()
        zone = zone_of(known.snapshot.timezone) if known.snapshot is not None else UTC
        voice = Voice(known.units, known.ascii, zone)
        told = marks(lane, curves, entries, now, voice)
        return Ferment(lane, curves, self.stretch.window(lane, now), told, fan_of(lane.judgement), now, self.stretch.at)

    def _curves(self, lane: Lane, known: Known, now: datetime) -> Curves:
        """What was read of this beer last, also while another window of it is under way; else the last day."""
        answer = known.answer(self._query(lane, now))
        if isinstance(answer, CurvesAnswer):
            asked = answer.query
            if (asked.vessel, asked.since) == (lane.vessel.slug, _since(lane)):
                return answer.curves
        return lane.last_day(now)

    def _query(self, lane: Lane, now: datetime) -> CurvesQuery:
        return CurvesQuery(lane.vessel.slug, self.stretch.window(lane, now), _since(lane))

    def wants(self, known: Known) -> tuple[Query, ...]:
        looked = self._looked_at(known)
        if looked is None:
            return ()
        lane, now, left = looked
        asked = self._query(lane, now), JOURNAL
        return asked if left is None else (*asked, BatchQuery(left.batch.id))

    def waiting(self, known: Known) -> tuple[Alarm, ...]:
        return known.waiting(known.lane(self.vessel))


def _since(lane: Lane) -> datetime | None:
    return None if lane.batch is None else lane.batch.pitched_at
