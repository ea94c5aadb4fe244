"""One thing that was looked at, and what came of it."""

from dataclasses import dataclass
from enum import StrEnum


class Worth(StrEnum):
    OK = "ok"
    LOOK = "look"  # nothing is wrong, but somebody should know
    MEND = "mend"


@dataclass(frozen=True, slots=True)
class CheckLine:
    """what: one word of what was looked at. text: a sentence about it. remedy: what to do, empty where nothing is."""

    what: str
    worth: Worth
    text: str
    remedy: str = ""


def ok(what: str, text: str) -> CheckLine:
    return CheckLine(what, Worth.OK, text)


def look(what: str, text: str, remedy: str = "") -> CheckLine:
    return CheckLine(what, Worth.LOOK, text, remedy)


def mend(what: str, text: str, remedy: str = "") -> CheckLine:
    return CheckLine(what, Worth.MEND, text, remedy)
