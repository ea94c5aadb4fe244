"""Files that a command leaves behind: whole or not at all, never over another's but where that is said."""

import contextlib
import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TextIO

from fermwatch.errors import InputError


def refuse_what_is_there(files: Sequence[Path], *, overwrite: bool) -> None:
    """InputError, before anything is written, where a file of such a name is there and is not to be written over."""
    there = [str(file) for file in files if os.path.lexists(file)]
    if there and not overwrite:
        raise InputError(
            f"{', '.join(there)} {'is' if len(there) == 1 else 'are'} there already. Nothing was written.",
            hint="Name another place, or add --overwrite.",
        )


@contextlib.contextmanager
def written(file: Path) -> Iterator[TextIO]:
    """Under another name until it is whole; no link is followed."""
    part = file.with_name(f".{file.name}.{os.getpid()}.part")
    descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC | os.O_NOFOLLOW, 0o640)
    try:
        with os.fdopen(descriptor, "w", encoding="utf-8", newline="") as out:
            yield out
        part.replace(file)
    finally:
        part.unlink(missing_ok=True)
