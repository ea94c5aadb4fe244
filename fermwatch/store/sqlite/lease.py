"""One watcher per site: a lock on a file of its own beside the store, held as long as the process lives.

The lock is never on the database file itself: closing any other descriptor of that file would drop SQLite's locks
(sqlite.org/howtocorrupt.html, section 2.2).
"""

import contextlib
import fcntl
import os
from pathlib import Path

from fermwatch.errors import LeaseTaken

FILE_MODE = 0o600  # who may only read could hold it too, and keep the watcher from starting


class Lease:
    """Held from construction to `release`; the kernel lets go of it when the process dies, however it dies.

    Raises LeaseTaken, naming the process that holds it.
    """

    def __init__(self, file: Path, site: str) -> None:
        self._descriptor = os.open(file, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, FILE_MODE)
        try:
            fcntl.flock(self._descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            holder = os.read(self._descriptor, 20).decode("ascii", "replace").strip()
            os.close(self._descriptor)
            raise _taken(file, site, holder) from None
        os.fchmod(self._descriptor, FILE_MODE)
        # On a full disk the pid cannot be written; the lock holds all the same.
        with contextlib.suppress(OSError):
            os.ftruncate(self._descriptor, 0)
            os.pwrite(self._descriptor, f"{os.getpid()}\n".encode("ascii"), 0)

    def release(self) -> None:
        """Let go; done twice, it is done once: the number may by then be another file's."""
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1


def _taken(file: Path, site: str, holder: str) -> LeaseTaken:
    """What is written there is the watcher that was last: another program may hold the lock while that one is gone."""
    if not (holder.isdecimal() and Path("/proc", holder).exists()):
        return LeaseTaken(
            f"Another program holds {file}, so that the site {site} cannot be watched.",
            hint=f"See which: fuser -v {file}",
        )
    return LeaseTaken(
        f"The site {site} is already watched by process {holder}.",
        hint=f"Stop that one first (`kill {holder}`), or just open the dashboard: it needs no second watcher.",
    )


def is_held(file: Path, locks: Path = Path("/proc/locks")) -> bool:
    """Whether a watcher holds the lease, by the kernel's own list: asking for the lock would take it for a moment.

    False where the system has no such list (proc(5)). A file system without a device of its own, as one of subvolumes
    or of layers, tells a file another device than the kernel lists: there the number of the file alone is looked for.
    """
    try:
        seen, listed = file.stat(), locks.read_text(encoding="ascii", errors="replace")
    except OSError:
        return False
    device = "" if os.major(seen.st_dev) == 0 else f"{os.major(seen.st_dev):02x}:{os.minor(seen.st_dev):02x}"
    wanted = f"{device}:{seen.st_ino}"
    places = (line.split()[5] for line in listed.splitlines() if line.split()[1:2] == ["FLOCK"])
    return any(place == wanted if device else place.endswith(wanted) for place in places)
