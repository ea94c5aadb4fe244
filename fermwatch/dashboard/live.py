"""What the dashboard knows, as one frozen value, and how each event changes it. Pure: no terminal, no clock."""

from dataclasses import dataclass, replace

from fermwatch.contracts.feed import Lane, Snapshot
from fermwatch.drawing import page
from fermwatch.drawing.page import Page, Sheet
from fermwatch.model.finding import Alarm
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import CANONICAL, Units
from fermwatch.saying.watch import Said, unseen, unseen_of_site


@dataclass(frozen=True, slots=True)
class SnapshotRead:
    snapshot: Snapshot


@dataclass(frozen=True, slots=True)
class ReadingFailed:
    """The store could not be read. It is tried again."""

    message: str
    hint: str = ""


@dataclass(frozen=True, slots=True)
class CursorMoved:
    by: int


@dataclass(frozen=True, slots=True)
class LanePicked:
    number: int


@dataclass(frozen=True, slots=True)
class UnitsTurned:
    pass


Event = SnapshotRead | ReadingFailed | CursorMoved | LanePicked | UnitsTurned


@dataclass(frozen=True, slots=True)
class LiveView:
    """failure: why nothing newer can be read; the last snapshot stays with it."""

    ascii: bool = False
    units: Units = CANONICAL
    snapshot: Snapshot | None = None
    failure: ReadingFailed | None = None
    vessel: str = ""  # slug of the lane under the cursor, so that it stays on its fermenter

    @property
    def selected(self) -> int:
        lanes = self.snapshot.lanes if self.snapshot else ()
        return next((number for number, lane in enumerate(lanes) if lane.vessel.slug == self.vessel), 0)

    @property
    def lane(self) -> Lane | None:
        return self.snapshot.lanes[self.selected] if self.snapshot is not None and self.snapshot.lanes else None

    @property
    def waiting(self) -> tuple[Alarm, ...]:
        """The alarms that the key for them is about, of those that nobody has seen: the lane's and the site's, else
        those of packaged beers.
        """
        if self.snapshot is None:
            return ()
        own = (*(unseen(self.lane) if self.lane is not None else ()), *unseen_of_site(self.snapshot))
        return own or tuple(alarm for one in self.snapshot.in_package for alarm in unseen(one))


def absorb(view: LiveView, event: Event) -> LiveView:
    """The view after the event."""
    match event:
        case SnapshotRead(snapshot):
            return replace(view, snapshot=snapshot, failure=None)
        case ReadingFailed():
            return replace(view, failure=event)
        case CursorMoved(by):
            return _pick(view, view.selected + by)
        case LanePicked(number):
            return _pick(view, number)
        case UnitsTurned():
            return replace(view, units=view.units.following())


def _pick(view: LiveView, number: int) -> LiveView:
    if view.snapshot is None or not view.snapshot.lanes:
        return view
    lanes = view.snapshot.lanes
    return replace(view, vessel=lanes[min(max(number, 0), len(lanes) - 1)].vessel.slug)


def overview(view: LiveView, width: int, height: int) -> Page:
    """The overview as lines. A store that cannot be read is said above what was last read."""
    sheet = Sheet(width, height, view.ascii, view.units)
    if view.snapshot is None:
        return _waiting(view, sheet)
    if view.failure is None:
        return page.overview(view.snapshot, sheet, view.selected)
    voice = sheet.voice(view.snapshot)
    said = voice.text(f"{view.failure.message} {view.failure.hint}".strip())
    below = page.overview(view.snapshot, replace(sheet, height=height - 1), view.selected)
    return page.headed(Said(said, Ink.CRITICAL, "!!"), below, sheet)


def _waiting(view: LiveView, sheet: Sheet) -> Page:
    if view.failure is None:
        return page.message("Reading the store", [], sheet, Ink.FAINT)
    rows = [view.failure.hint, "", "It is tried again every few seconds."]
    return page.message(f"!! {view.failure.message}", rows, sheet, Ink.CRITICAL)


def lane_detail(view: LiveView, width: int) -> Page:
    """Everything known of the lane under the cursor."""
    sheet = Sheet(width, 0, view.ascii, view.units)
    if view.snapshot is None or view.lane is None:
        return page.message("Nothing is known of this fermenter yet", [], sheet)
    from fermwatch.drawing import detail

    lines = detail.lane_lines(view.lane, view.snapshot, sheet)
    return Page(tuple(lines), (-1,) * len(lines))
