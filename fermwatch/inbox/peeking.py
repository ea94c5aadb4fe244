"""A look at the names alone of what waits in the inbox: to let a controller be must not wait behind anything, and
where nobody watches people are told that what they said waits.
"""

import os
from pathlib import Path

from fermwatch.inbox.sending import LETTER, inbox_directory

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


def how_many_wait(store: Path, site: str) -> int:
    """What was asked and nobody has taken yet. Of a directory that cannot be read nothing is known."""
    try:
        with os.scandir(inbox_directory(store, site)) as entries:
            return sum(entry.name.endswith(LETTER) and not entry.name.startswith(".") for entry in entries)
    except OSError:
        return 0
