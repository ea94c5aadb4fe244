"""The alarms of the whole site: what needs somebody, what was seen, what is quiet on purpose, and what there was."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, ClassVar

from fermwatch.contracts.feed import JournalAnswer, JournalQuery, Query
from fermwatch.dashboard.events import AskQuiet, CursorMoved, Happening, LanePicked, PageOpened, Wish
from fermwatch.dashboard.known import Known
from fermwatch.drawing import page
from fermwatch.drawing.page import Drawn, Sheet
from fermwatch.model.finding import Alarm

if TYPE_CHECKING:
    from fermwatch.saying.alarm_list import Listed

FOOTER = 1  # row
JOURNAL = JournalQuery(200, "alarm")


@dataclass(frozen=True, slots=True)
class Alarms:
    """subject: where it was opened. picked: rule and subject of the alarm under the cursor; the first one's where there
    is none of it any more. more: whether its history is shown."""

    NAME: ClassVar[str] = "alarms"
    SCROLLS: ClassVar[bool] = True
    subject: str
    picked: tuple[str, str] = ("", "")
    more: bool = False

    def about(self, _known: Known) -> str:
        return self.subject

    def absorb(self, event: Happening, known: Known) -> "Alarms | PageOpened | AskQuiet":
        alarms = self._alarms(known)
        match event:
            case CursorMoved(by) if alarms:
                return self._at(self._place(alarms) + by, alarms)
            case LanePicked(number) if alarms:
                here = number == self._place(alarms)
                return replace(self, more=not self.more) if here else self._at(number, alarms)
            case Wish.OPEN:
                return replace(self, more=not self.more)
            case Wish.QUIETEN if alarms:
                return AskQuiet(alarms[self._place(alarms)])
            case _:
                return self

    def _at(self, number: int, alarms: list[Alarm]) -> "Alarms":
        alarm = alarms[min(max(number, 0), len(alarms) - 1)]
        return replace(self, picked=(alarm.rule, alarm.subject))

    def _groups(self, known: Known) -> "tuple[Listed, ...]":
        from fermwatch.saying.alarm_list import listed  # not before somebody lists them

        return () if known.snapshot is None else listed(known.snapshot.alarms, known.snapshot.now)

    def _alarms(self, known: Known) -> list[Alarm]:
        from fermwatch.saying.alarm_list import all_of

        return all_of(self._groups(known))

    def _place(self, alarms: list[Alarm]) -> int:
        names = [(alarm.rule, alarm.subject) for alarm in alarms]
        return names.index(self.picked) if self.picked in names else 0

    def draw(self, known: Known, width: int, height: int) -> Drawn:
        from fermwatch.drawing import alarm_sheet
        from fermwatch.drawing.alarm_sheet import AlarmStory

        sheet = Sheet(width, max(height - FOOTER, 1), known.ascii, known.units)
        if known.snapshot is None:
            return page.message("Nothing is known of any alarm yet", [], sheet)
        journal, alarms = known.answer(JOURNAL), self._alarms(known)
        entries = journal.entries if isinstance(journal, JournalAnswer) else ()
        picked = alarms[self._place(alarms)] if alarms else None
        return alarm_sheet.draw(AlarmStory(self._groups(known), entries, picked, self.more), known.snapshot, sheet)

    def wants(self, _known: Known) -> tuple[Query, ...]:
        return (JOURNAL,)

    def waiting(self, known: Known) -> tuple[Alarm, ...]:
        """The one under the cursor, where nobody has seen it."""
        alarms = self._alarms(known)
        here = alarms[self._place(alarms)] if alarms else None
        return (here,) if here is not None and here.unseen and not here.is_quiet else ()
