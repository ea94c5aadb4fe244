"""Whether the files of a store still lie where they were opened.

A file that was deleted or replaced goes on being written into nothing by whoever has it open, and nobody notices. Only
`stat` is asked: opening a database's file and closing it again would drop SQLite's locks on it.
"""

from collections.abc import Sequence
from pathlib import Path

from fermwatch.errors import StoreGone

BACK_AGAIN = "Put it back, and it is used again by itself; where it is lost, start the watcher anew to begin another."

_Identity = tuple[int, int]


class Presence:
    """The files as they were when this was made."""

    def __init__(self, files: Sequence[Path]) -> None:
        self._known = {file: _identity(file) for file in files}

    def check(self) -> None:
        """StoreGone where one of them is gone, is another, or cannot be reached."""
        for file, known in self._known.items():
            try:
                now = _identity(file)
            except FileNotFoundError:
                raise StoreGone(f"The store was taken away: there is no {file} any more.", hint=BACK_AGAIN) from None
            except OSError as error:
                hint = "Check who owns its directory, and the modes on the way there."
                raise StoreGone(f"The store cannot be reached: {file}: {error.strerror}.", hint=hint) from error
            if now != known:
                raise StoreGone(f"The store was replaced: {file} is another file than the one opened.", hint=BACK_AGAIN)


def _identity(file: Path) -> _Identity:
    found = file.stat()
    return found.st_dev, found.st_ino
