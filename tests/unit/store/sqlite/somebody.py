"""Being another user of the group for a moment."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

NOBODY = 65534


@contextmanager
def somebody_who_may_not_write(*paths: Path) -> Iterator[None]:
    """The paths lose their write bits; where the tests run as root, which nothing stops, also another user acts."""
    modes = {path: path.stat().st_mode & 0o7777 for path in paths}
    for path, mode in modes.items():
        path.chmod(mode & ~0o222)
    is_root = os.geteuid() == 0
    if is_root:
        _let_through(paths[0].parent)
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        if is_root:
            os.seteuid(0)
        for path, mode in modes.items():
            path.chmod(mode)


def _let_through(directory: Path) -> None:
    for each in (directory, *directory.parents):
        mode = each.stat().st_mode & 0o7777
        if not mode & 0o010 and each.stat().st_uid == 0:
            each.chmod(mode | 0o010)
