"""What can happen to the dashboard, and what it may have to do besides drawing. Plain values.

Named tuples, since all of them are made before the first frame, and a dataclass takes eight times as long to make.
"""

from collections.abc import Mapping
from enum import Enum, auto
from typing import TYPE_CHECKING, NamedTuple

from fermwatch.contracts.feed import Answer, Snapshot
from fermwatch.dashboard.colours import Colours
from fermwatch.model.finding import Alarm
from fermwatch.saying.voice import Units

if TYPE_CHECKING:  # not before somebody writes something in
    from fermwatch.dashboard.forms.form import Draft
    from fermwatch.desk.prepared import Prepared


class Wish(Enum):
    """What a person may want by a key alone."""

    BACK = auto()
    UNITS = auto()
    THEME = auto()
    OPEN = auto()  # what is under the cursor
    WHY = auto()  # what is said rests on what
    QUIETEN = auto()  # the alarm under the cursor is to be quiet for a while
    OBSERVE = auto()  # every controller is let be
    ALARM_SEEN = auto()  # what waits on this page has been seen; which one is asked where there are several
    HELP = auto()
    SEARCH = auto()  # for a fermenter or a batch
    PALETTE = auto()  # for something to do
    CLOSE_WINDOW = auto()
    LEAVE = auto()
    WRITE = auto()  # something in: a form, to be chosen
    BESIDE = auto()  # one batch is to be laid beside another
    VOID = auto()  # what is under the cursor, else what was entered last
    FORM_ON = auto()  # from the fields to the question, from there into the inbox
    FORM_BACK = auto()
    FIELD_NEXT = auto()
    FIELD_BEFORE = auto()


class SnapshotRead(NamedTuple):
    snapshot: Snapshot


class Answered(NamedTuple):
    answer: Answer


class ReadingFailed(NamedTuple):
    """The store could not be read. It is tried again."""

    message: str
    hint: str = ""


class CursorMoved(NamedTuple):
    by: int


class TimeMoved(NamedTuple):
    """The cursor on a time axis, by so many steps."""

    steps: int


class Zoomed(NamedTuple):
    """So many steps closer on a time axis; 0 for all of it."""

    by: int


class MarkStepped(NamedTuple):
    """To the mark so many further along a time axis."""

    by: int


class DialPicked(NamedTuple):
    """What keys turn: the one so many further on."""

    by: int


class DialTurned(NamedTuple):
    """By so many steps; 0 puts all of them back."""

    by: int


class LanePicked(NamedTuple):
    """Pointed at: the lane of this number."""

    number: int


class PageOpened(NamedTuple):
    """A page by its name. about: empty for what the page above which it opens is about."""

    name: str
    about: str = ""


class GoneTo(NamedTuple):
    """From anywhere to a page of this name, about this; what was open over the first page is left."""

    name: str
    subject: str


class WindowMoved(NamedTuple):
    """The cursor in an open window."""

    by: int


class CameBack(NamedTuple):
    """The page above was left; what that one was about."""

    subject: str


class FormOpened(NamedTuple):
    """A form by its name, about a batch or an empty fermenter. entry: to be voided, where one is chosen."""

    kind: str
    subject: str
    entry: str = ""


class FieldTyped(NamedTuple):
    name: str
    value: str


class Looked(NamedTuple):
    """What the store makes of what was typed."""

    draft: "Draft"
    prepared: "Prepared"


class NotTaken(NamedTuple):
    """What was typed cannot be taken or kept: why, and what may help."""

    draft: "Draft"
    text: str
    hint: str = ""


class RequestsKept(NamedTuple):
    """The inbox has them. `done` is said once the watcher has carried them out. draft: of the form they come from."""

    request_keys: tuple[str, ...]
    done: str
    draft: "Draft | None" = None


class WaitedLong(NamedTuple):
    """These were asked a while ago: if there is no outcome yet, that is said."""

    request_keys: tuple[str, ...]


class Failed(NamedTuple):
    """Something that a person wanted could not be done, and why."""

    text: str


Happening = (
    Wish
    | SnapshotRead
    | Answered
    | ReadingFailed
    | CursorMoved
    | TimeMoved
    | Zoomed
    | MarkStepped
    | DialPicked
    | DialTurned
    | LanePicked
    | PageOpened
    | GoneTo
    | WindowMoved
    | CameBack
    | FormOpened
    | FieldTyped
    | Looked
    | NotTaken
    | RequestsKept
    | WaitedLong
    | Failed
)


class Do(Enum):
    """What is done by the terminal alone."""

    SHOW_HELP = auto()
    SEARCH = auto()
    SHOW_PALETTE = auto()
    CLOSE_WINDOW = auto()
    LEAVE = auto()
    FIELD_NEXT = auto()
    FIELD_BEFORE = auto()
    RING = auto()  # the terminal's bell


class Tell(NamedTuple):
    text: str
    severe: bool = False


class MoveInWindow(NamedTuple):
    by: int


class AskWhich(NamedTuple):
    alarms: tuple[Alarm, ...]


class AskWhatToWrite(NamedTuple):
    """about, subject: of what beer. kinds: forms, each with what it is for."""

    about: str
    subject: str
    kinds: tuple[tuple[str, str], ...]


class LookAt(NamedTuple):
    """What the store makes of what is said, by a command's options; Looked or NotTaken tells."""

    draft: "Draft"
    command: str
    said: "Mapping[str, str | bool | list[str]]"


class Keep(NamedTuple):
    """In the inbox; RequestsKept or NotTaken tells."""

    draft: "Draft"
    prepared: "Prepared"


class AskQuiet(NamedTuple):
    """For how long this alarm is to be quiet, or whether it may speak again."""

    alarm: Alarm


class Acknowledge(NamedTuple):
    alarms: tuple[Alarm, ...]


class LetBe(NamedTuple):
    """Nothing is to be written to these controllers any more."""

    controllers: tuple[str, ...]


class KeepUnits(NamedTuple):
    """then: what the key turns to next."""

    units: Units
    then: Units


class KeepLook(NamedTuple):
    look: Colours


class AwaitOutcomes(NamedTuple):
    """Come back with WaitedLong after a while."""

    request_keys: tuple[str, ...]


Writes = AskWhatToWrite | LookAt | Keep
Asks = AskWhich | AskQuiet
Effect = Do | Tell | MoveInWindow | Asks | Writes | Acknowledge | LetBe | KeepUnits | KeepLook | AwaitOutcomes
