"""A few megabytes held back beside the store, given up when the disk is full so that alarms can still be written.

On a full disk SQLite can write nothing, not even a deletion. Readings therefore wait as soon as the ballast is spent,
and go on once there is room to lay it down again.
"""

import contextlib
import os
from pathlib import Path

FILE_MODE = 0o640
SIZE = 4 * 1024 * 1024


class Ballast:
    """The file and its size. `present` is whether it lies there whole."""

    def __init__(self, file: Path, size: int = SIZE) -> None:
        self._file, self._size = file, size
        self.present = self._whole() or self.lay()

    def _whole(self) -> bool:
        try:
            found = self._file.lstat()
        except OSError:
            return False
        return found.st_size == self._size and found.st_blocks * 512 >= self._size

    def has_room(self) -> bool:
        """Whether the disk has twice its size left."""
        try:
            room = os.statvfs(self._file.parent)
        except OSError:
            return False
        return room.f_bavail * room.f_frsize >= 2 * self._size

    def lay(self) -> bool:
        """Lay it down where the disk has twice the room, so that it is not spent again at once."""
        self.present = False
        self._remove()
        if self.has_room():
            with contextlib.suppress(OSError):
                self._allocate()
                self.present = True
        if not self.present:
            self._remove()
        return self.present

    def spend(self) -> bool:
        """Give the room back to the disk; False where there was none to give."""
        was_present, self.present = self.present, False
        self._remove()
        return was_present

    def _allocate(self) -> None:
        descriptor = os.open(self._file, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, FILE_MODE)
        try:
            os.fchmod(descriptor, FILE_MODE)
            os.posix_fallocate(descriptor, 0, self._size)
        finally:
            os.close(descriptor)

    def _remove(self) -> None:
        with contextlib.suppress(OSError):
            self._file.unlink(missing_ok=True)
