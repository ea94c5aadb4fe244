"""Whether the files of a store still lie where they were opened.

A file that was deleted or replaced goes on being written into nothing by whoever has it open, and nobody notices; one
that was cut short is damaged, and a store never shrinks by itself. Only `stat` is asked: opening a database's file and
closing it again would drop SQLite's locks on it.
"""

from collections.abc import Sequence
from pathlib import Path

from fermwatch.errors import StoreError, StoreGone
from fermwatch.store.sqlite.connection import BACKUP

BACK_AGAIN = "Put it back, and it is used again by itself; where it is lost, start the watcher anew to begin another."

_Identity = tuple[int, int]


def refuse_emptied(file: Path) -> None:
    """A power cut or a full disk may leave a file empty that held a store: beginning anew in it would hide the loss."""
    if file.with_suffix(".ballast").exists() and file.exists() and not file.stat().st_size:
        raise StoreError(
            f"{file} is empty, and a store was in it before.",
            hint="Put a backup in its place; or remove it, to begin anew with nothing.",
        )


class Presence:
    """The files as they were when this was made."""

    def __init__(self, files: Sequence[Path]) -> None:
        self._known = {file: _identity(file) for file in files}
        self._size, self._first = 0, files[0]  # the others grow and shrink with what waits in them
        self._written_ns = files[0].stat().st_mtime_ns

    def check(self) -> None:
        """StoreGone where one of them is gone, is another, or cannot be reached."""
        for file, known in self._known.items():
            try:
                found = file.stat()
            except FileNotFoundError:
                raise StoreGone(f"The store was taken away: there is no {file} any more.", hint=BACK_AGAIN) from None
            except OSError as error:
                hint = "Check who owns its directory, and the modes on the way there."
                raise StoreGone(f"The store cannot be reached: {file}: {error.strerror}.", hint=hint) from error
            if (found.st_dev, found.st_ino) != known:
                raise StoreGone(f"The store was replaced: {file} is another file than the one opened.", hint=BACK_AGAIN)
            if file == self._first:
                self._check_size(found.st_size)

    def was_written(self) -> bool:
        """Whether anybody wrote to the first since this was asked last. What sets no time, as a failing disk, is not
        seen.
        """
        self.check()
        before, self._written_ns = self._written_ns, self._first.stat().st_mtime_ns
        return self._written_ns != before

    def _check_size(self, size: int) -> None:
        if size < self._size:
            raise StoreGone(f"The store was cut short: {self._first} is damaged.", hint=BACKUP)
        self._size = size


def _identity(file: Path) -> _Identity:
    found = file.stat()
    return found.st_dev, found.st_ino
