"""A look at the names alone of what waits in the inbox: to let a controller be must not wait behind anything."""

import os
from pathlib import Path

from fermwatch.inbox.sending import inbox_directory

_MARK = "OBS"


def observe_identity(controller: str, ulid: str) -> str:
    """The identity of a request to observe only, which is seen by its name while it waits."""
    return f"{_MARK}-{controller}-{ulid}"


def asked_to_observe(store: Path, site: str, controller: str) -> bool:
    """Whether such a request waits. A directory that cannot be read has none: what lies there is not heard either."""
    mark = f"-{_MARK}-{controller}-"
    try:
        with os.scandir(inbox_directory(store, site)) as entries:
            return any(mark in entry.name for entry in entries)
    except OSError:
        return False
