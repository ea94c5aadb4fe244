"""A file that holds one secret, as a password or an address with a key in it, and that nobody else may read."""

import stat
from pathlib import Path
from typing import Protocol

from fermwatch.errors import FermwatchError
from fermwatch.files import read_short
from fermwatch.text import clean

LONGEST = 64 * 1024  # bytes: the longest password that MQTT allows


class Refusing(Protocol):
    """An error of whoever needs the secret."""

    def __call__(self, message: str, *, hint: str) -> FermwatchError: ...


def read_secret(path: Path, what: str, refused: Refusing, *, ours_alone: bool = True) -> str:
    """Its text without the end of its line. Raises what `refused` makes, and never shows it.

    what: in words, as "the address". ours_alone: whether nobody else may be able to read it.
    """
    shown = clean(str(path), 300)
    try:
        mode = stat.S_IMODE(path.stat().st_mode)
        if ours_alone and mode & (stat.S_IRWXG | stat.S_IRWXO):
            raise refused(
                f"Others than its owner may read or change {shown} (mode {mode:o}).", hint=f"Run: chmod 600 {shown}"
            )
        text = read_short(path, LONGEST).decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = clean(getattr(error, "strerror", None) or "not UTF-8 text")
        raise refused(
            f"{what[0].upper()}{what[1:]} cannot be read from {shown}: {reason}.",
            hint="It is a file that holds nothing else, and that the watcher's user can read.",
        ) from None
    return text.rstrip("\r\n")
