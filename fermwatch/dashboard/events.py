"""What can happen to the dashboard, and what it may have to do besides drawing. Plain values."""

from dataclasses import dataclass

from fermwatch.contracts.feed import Answer, Snapshot
from fermwatch.model.finding import Alarm
from fermwatch.saying.voice import Units


@dataclass(frozen=True, slots=True)
class SnapshotRead:
    snapshot: Snapshot


@dataclass(frozen=True, slots=True)
class Answered:
    answer: Answer


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
    """Pointed at: the lane of this number."""

    number: int


@dataclass(frozen=True, slots=True)
class PageOpened:
    """A page by its name, of what the page above which it opens is about."""

    name: str


@dataclass(frozen=True, slots=True)
class WentBack:
    pass


@dataclass(frozen=True, slots=True)
class CameBack:
    """The page above was left; what that one was about."""

    subject: str


@dataclass(frozen=True, slots=True)
class UnitsTurned:
    pass


@dataclass(frozen=True, slots=True)
class ThemeTurned:
    pass


@dataclass(frozen=True, slots=True)
class AlarmSeen:
    """Somebody says so of what waits on this page; which one is asked where there are several."""


@dataclass(frozen=True, slots=True)
class HelpWanted:
    pass


@dataclass(frozen=True, slots=True)
class WindowClosed:
    pass


@dataclass(frozen=True, slots=True)
class Left:
    pass


@dataclass(frozen=True, slots=True)
class RequestsKept:
    """The inbox has them. `done` is said once the watcher has carried them out."""

    request_keys: tuple[str, ...]
    done: str


@dataclass(frozen=True, slots=True)
class WaitedLong:
    """These were asked a while ago: if there is no outcome yet, that is said."""

    request_keys: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Failed:
    """Something that a person wanted could not be done, and why."""

    text: str


Event = (
    SnapshotRead
    | Answered
    | ReadingFailed
    | CursorMoved
    | LanePicked
    | PageOpened
    | WentBack
    | CameBack
    | UnitsTurned
    | ThemeTurned
    | AlarmSeen
    | HelpWanted
    | WindowClosed
    | Left
    | RequestsKept
    | WaitedLong
    | Failed
)


@dataclass(frozen=True, slots=True)
class Tell:
    text: str
    severe: bool = False


@dataclass(frozen=True, slots=True)
class AskWhich:
    alarms: tuple[Alarm, ...]


@dataclass(frozen=True, slots=True)
class Acknowledge:
    alarms: tuple[Alarm, ...]


@dataclass(frozen=True, slots=True)
class KeepUnits:
    units: Units


@dataclass(frozen=True, slots=True)
class AwaitOutcomes:
    """Come back with WaitedLong after a while."""

    request_keys: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ShowHelp:
    pass


@dataclass(frozen=True, slots=True)
class CloseWindow:
    pass


@dataclass(frozen=True, slots=True)
class Leave:
    pass


Effect = Tell | AskWhich | Acknowledge | KeepUnits | AwaitOutcomes | ShowHelp | CloseWindow | Leave
