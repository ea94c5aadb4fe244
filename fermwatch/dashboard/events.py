"""What can happen to the dashboard, and what it may have to do besides drawing. Plain values."""

from dataclasses import dataclass
from enum import Enum, auto

from fermwatch.contracts.feed import Answer, Snapshot
from fermwatch.model.finding import Alarm
from fermwatch.saying.voice import Units


class Wish(Enum):
    """What a person may want by a key alone."""

    BACK = auto()
    UNITS = auto()
    THEME = auto()
    ALARM_SEEN = auto()  # what waits on this page has been seen; which one is asked where there are several
    HELP = auto()
    CLOSE_WINDOW = auto()
    LEAVE = auto()


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
class CameBack:
    """The page above was left; what that one was about."""

    subject: str


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
    Wish
    | SnapshotRead
    | Answered
    | ReadingFailed
    | CursorMoved
    | LanePicked
    | PageOpened
    | CameBack
    | RequestsKept
    | WaitedLong
    | Failed
)


class Do(Enum):
    """What is done by the terminal alone."""

    SHOW_HELP = auto()
    CLOSE_WINDOW = auto()
    LEAVE = auto()


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


Effect = Do | Tell | AskWhich | Acknowledge | KeepUnits | AwaitOutcomes
