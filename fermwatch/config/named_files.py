"""Whether the files that the configuration names are there."""

import os
import stat
from dataclasses import dataclass
from pathlib import Path

from fermwatch.config.load import Loaded

HOLDS_A_SECRET = "password_file"  # noqa: S105 - the name of a key


@dataclass(frozen=True, slots=True)
class Amiss:
    """What is wrong with one file, in a word and a sentence, and what to do about it."""

    label: str
    said: str
    remedy: str


def what_is_amiss(loaded: Loaded) -> tuple[Amiss, ...]:
    """The files that sources name and that are not there, or not readable, or open to others with a secret in."""
    found = (
        _amiss(f"{source.name}: {key} {value}", value, secret=key == HOLDS_A_SECRET)
        for source in loaded.sources
        for key, value in source.options
        if isinstance(value, Path) and not key.endswith("directory")  # what lies in there is looked at by its driver
    )
    return tuple(one for one in found if one is not None)


def _amiss(what: str, file: Path, *, secret: bool) -> Amiss | None:
    try:
        mode = file.stat().st_mode
    except OSError as error:
        return Amiss("missing", f"{what}: {error.strerror}.", "Write it, or name another.")
    if not stat.S_ISREG(mode):
        return Amiss("no file", f"{what} is no file.", "Name a file.")
    if secret and (others := stat.S_IMODE(mode)) & (stat.S_IRWXG | stat.S_IRWXO):  # as the driver refuses it
        said = f"{what}: others than its owner may read or change it (mode {others:o})."
        return Amiss("open to others", said, f"Run: chmod 600 {file}")
    if not os.access(file, os.R_OK):
        return Amiss("not readable", f"{what}: you cannot read it.", "The watcher's user must be able to.")
    return None
