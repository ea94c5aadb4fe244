"""Short files that somebody wrote by hand, read without waiting and without end: no pipe, no device, nothing huge."""

import errno
import os
import stat
from pathlib import Path


def read_short(file: Path, most_bytes: int) -> bytes:
    """What a regular file holds. OSError, whose `strerror` is fit for a person, where it is none or is longer."""
    descriptor = os.open(file, os.O_RDONLY | os.O_NONBLOCK | os.O_NOCTTY | os.O_CLOEXEC)
    with os.fdopen(descriptor, "rb") as opened:
        seen = os.fstat(descriptor)
        if not stat.S_ISREG(seen.st_mode):
            raise OSError(errno.EINVAL, "it is no regular file", str(file))
        data = opened.read(most_bytes + 1) if seen.st_size <= most_bytes else b""
    if max(seen.st_size, len(data)) > most_bytes:
        raise OSError(errno.EFBIG, f"it has {seen.st_size} bytes, where at most {most_bytes} are read", str(file))
    return data
