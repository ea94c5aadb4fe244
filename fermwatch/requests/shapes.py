"""What people may ask, a type for each kind of request: who asks makes one, and the watcher reads it back strictly,
since it was written by another user, and perhaps by another program.

Shapes only; ranges are for checks.py. Everything wrong is a RequestRefused that says what.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeVar

from fermwatch.contracts.inbox import RequestKind
from fermwatch.errors import RequestRefused
from fermwatch.model.batch import Batch, Event, GravityMeasurement
from fermwatch.model.degree import Degree
from fermwatch.model.quantity import Quantity
from fermwatch.plain_data import Malformed, from_plain
from fermwatch.text import clean

ShapeT = TypeVar("ShapeT")

LONGEST_SAID = 500
MOST_ITEMS = 200
_DEEPEST = 6


@dataclass(frozen=True, slots=True)
class EndingBatch:
    """Of a batch."""

    id: str


@dataclass(frozen=True, slots=True)
class BatchEdit:
    """version: that of the batch as it was seen; None edits whatever is there."""

    id: str
    changes: Mapping[str, Any]
    version: int | None = None


@dataclass(frozen=True, slots=True)
class Measuring:
    batch: str
    measurement: GravityMeasurement


@dataclass(frozen=True, slots=True)
class Happened:
    batch: str
    event: Event


@dataclass(frozen=True, slots=True)
class Voiding:
    id: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Acknowledging:
    rule: str
    subject: str


@dataclass(frozen=True, slots=True)
class Shelving:
    rule: str
    subject: str
    until: datetime


@dataclass(frozen=True, slots=True)
class Unshelving:
    rule: str
    subject: str


@dataclass(frozen=True, slots=True)
class Service:
    rule: str
    subject: str
    out: bool


@dataclass(frozen=True, slots=True)
class ArmingAsked:
    """repeated: the caution, as the person repeated it; to observe needs none."""

    controller: str
    degree: Degree
    repeated: str = ""


@dataclass(frozen=True, slots=True)
class Recorded:
    """A part of a recorded log, of one quantity in a fermenter: equally many of each, uncalibrated, canonical units.

    last: whether it is the log's last part, after which its beer is judged anew.
    """

    vessel: str
    quantity: Quantity
    at_ms: tuple[int, ...]
    values: tuple[float, ...]
    flags: tuple[int, ...]
    last: bool = False


SHAPES: Mapping[RequestKind, type] = {
    RequestKind.OPEN_BATCH: Batch,
    RequestKind.EDIT_BATCH: BatchEdit,
    RequestKind.END_BATCH: EndingBatch,
    RequestKind.MEASURE: Measuring,
    RequestKind.EVENT: Happened,
    RequestKind.VOID: Voiding,
    RequestKind.ACKNOWLEDGE: Acknowledging,
    RequestKind.SHELVE: Shelving,
    RequestKind.UNSHELVE: Unshelving,
    RequestKind.IMPORT: Recorded,
    RequestKind.SERVICE: Service,
    RequestKind.ARM: ArmingAsked,
}
KIND_OF: Mapping[type, RequestKind] = {shape: kind for kind, shape in SHAPES.items()}

Asked = (
    Batch
    | BatchEdit
    | EndingBatch
    | Measuring
    | Happened
    | Voiding
    | Acknowledging
    | Shelving
    | Unshelving
    | Recorded
    | Service
    | ArmingAsked
)


def read(shape: type[ShapeT], payload: object, most_items: int = MOST_ITEMS) -> ShapeT:
    """The payload as `shape`, its text cleaned. RequestRefused names the key that is wrong."""
    try:
        return from_plain(shape, tidy(payload, most_items))
    except Malformed as error:
        raise RequestRefused(f"{clean(str(error), 200)}.") from None


def tidy(plain: object, most_items: int = MOST_ITEMS, depth: int = 0) -> object:
    """JSON data with every text cleaned and cut short; RequestRefused where it is too big."""
    if depth > _DEEPEST:
        raise RequestRefused("The request is nested too deeply.")
    if isinstance(plain, str):
        return clean(plain, LONGEST_SAID)
    if isinstance(plain, Mapping | list | tuple) and len(plain) > most_items:
        raise RequestRefused(f"The request holds more than {most_items} entries in one place.")
    if isinstance(plain, Mapping):
        return {clean(str(key)): tidy(item, most_items, depth + 1) for key, item in plain.items()}
    if isinstance(plain, list | tuple):
        return [tidy(item, most_items, depth + 1) for item in plain]
    return plain
