"""A file that holds one secret, as a password or an address with a key in it, and that nobody else may read."""

import stat
from pathlib import Path

from fermwatch.errors import NotifierRefused
from fermwatch.files import read_short
from fermwatch.text import clean

LONGEST = 64 * 1024  # bytes


def read_secret(path: Path, what: str) -> str:
    """Its text. Raises NotifierRefused, never showing it; `what`: in words, as "the address"."""
    shown = clean(str(path), 300)
    try:
        mode = stat.S_IMODE(path.stat().st_mode)
        if mode & (stat.S_IRWXG | stat.S_IRWXO):
            raise NotifierRefused(
                f"Others than its owner may read or change {shown} (mode {mode:o}).", hint=f"Run: chmod 600 {shown}"
            )
        text = read_short(path, LONGEST).decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = clean(getattr(error, "strerror", None) or "not UTF-8 text")
        raise NotifierRefused(
            f"{what[0].upper()}{what[1:]} cannot be read from {shown}: {reason}.",
            hint="It is a file that holds nothing else, and that the watcher's user can read.",
        ) from None
    return text.strip()
