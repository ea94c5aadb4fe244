"""People's side of the inbox: a request is written under another name, synced, and renamed in, so that the watcher
never sees half of one, and a power cut loses none that was said to be kept.
"""

import contextlib
import errno
import itertools
import os
from pathlib import Path

from fermwatch.access import no_access
from fermwatch.contracts.inbox import Request
from fermwatch.errors import StoreError, StoreFull
from fermwatch.inbox import letters

FILE_MODE = 0o640  # the watcher reads it as the group, which the directory's set-group-id bit gives the file
PART = ".part"
LETTER = ".json"

_count = itertools.count()  # keeps what one process asks in its order, where clocks are too coarse to tell


def inbox_directory(store: Path, site: str) -> Path:
    """Where a site's inbox lies beside its store."""
    return store / f"{site}.inbox"


def may_put(store: Path, site: str) -> bool:
    """Whether this user may ask something of a site; so it seems too where there is no inbox yet, which `put` tells."""
    place = inbox_directory(store, site)
    try:
        return not place.is_dir() or os.access(place, os.W_OK | os.X_OK)
    except PermissionError:  # not even to be looked at
        return False


def put(store: Path, request: Request) -> None:
    """Keep a request durably for the watcher of its site, whether it runs now or not.

    Raises StoreForbidden for who is not of the group, StoreFull, or StoreError where there is no inbox.
    """
    place = inbox_directory(store, request.site)
    data = letters.written(request)
    name = f"{next(_count) % 1_000_000:06d}-{request.id}{LETTER}"
    try:
        _write(place, name, data)
    except (FileNotFoundError, NotADirectoryError):
        raise StoreError(
            f"There is no inbox at {place}.", hint="Start `fermwatch watch` once, or try `fermwatch demo`."
        ) from None
    except PermissionError:
        raise no_access(place, "written") from None
    except OSError as error:
        if error.errno in {errno.ENOSPC, errno.EDQUOT}:
            raise StoreFull(
                f"The disk that holds {place} is full: nothing was kept.", hint="Free some space."
            ) from None
        raise StoreError(f"{place}: {error.strerror}.", hint="Check who owns the directory, and its mode.") from None


def _write(place: Path, name: str, data: bytes) -> None:
    directory = os.open(place, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW | os.O_CLOEXEC)
    part = f".{name}.{os.getpid()}{PART}"
    try:
        file = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, FILE_MODE, dir_fd=directory)
        try:
            with os.fdopen(file, "wb") as writing:
                writing.write(data)
                writing.flush()
                os.fchmod(writing.fileno(), FILE_MODE)  # whatever the umask
                os.fsync(writing.fileno())
            os.rename(part, name, src_dir_fd=directory, dst_dir_fd=directory)
        except BaseException:
            with contextlib.suppress(OSError):  # what failed is told; the watcher clears an old part away
                os.unlink(part, dir_fd=directory)
            raise
        os.fsync(directory)
    finally:
        os.close(directory)
