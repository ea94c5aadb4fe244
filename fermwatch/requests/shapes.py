"""What each kind of request holds, read strictly: it was written by another user, and perhaps by another program.

Shapes only; ranges are for checks.py. Everything wrong is a RequestRefused that says what.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeVar

from fermwatch.errors import RequestRefused
from fermwatch.model.batch import Event, GravityMeasurement
from fermwatch.plain_data import Malformed, from_plain
from fermwatch.text import clean

ShapeT = TypeVar("ShapeT")

_TEXT_LIMIT = 500
_MOST_ITEMS = 200
_DEEPEST = 6


@dataclass(frozen=True, slots=True)
class ById:
    id: str


@dataclass(frozen=True, slots=True)
class BatchEdit:
    """version: that of the batch as it was seen; None edits whatever is there."""

    id: str
    changes: Mapping[str, Any]
    version: int | None = None


@dataclass(frozen=True, slots=True)
class Measured:
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
class AlarmNamed:
    rule: str
    subject: str


@dataclass(frozen=True, slots=True)
class Shelving:
    rule: str
    subject: str
    until: datetime


@dataclass(frozen=True, slots=True)
class Service:
    rule: str
    subject: str
    out: bool


def read(shape: type[ShapeT], payload: object) -> ShapeT:
    """The payload as `shape`, its text cleaned. RequestRefused names the key that is wrong."""
    try:
        return from_plain(shape, tidy(payload))
    except Malformed as error:
        raise RequestRefused(f"{clean(str(error), 200)}.") from None


def tidy(plain: object, depth: int = 0) -> object:
    """JSON data with every text cleaned and cut short; RequestRefused where it is too big."""
    if depth > _DEEPEST:
        raise RequestRefused("The request is nested too deeply.")
    if isinstance(plain, str):
        return clean(plain, _TEXT_LIMIT)
    if isinstance(plain, Mapping | list | tuple) and len(plain) > _MOST_ITEMS:
        raise RequestRefused(f"The request holds more than {_MOST_ITEMS} entries in one place.")
    if isinstance(plain, Mapping):
        return {clean(str(key)): tidy(item, depth + 1) for key, item in plain.items()}
    if isinstance(plain, list | tuple):
        return [tidy(item, depth + 1) for item in plain]
    return plain
