"""Adding tables to a configuration: proven by loading what it would be, and put in its place whole or not at all."""

import contextlib
import os
import stat
import tempfile
from pathlib import Path
from typing import Any

from fermwatch.commands.context import Context
from fermwatch.commands.watch import load_file
from fermwatch.config.load import Loaded
from fermwatch.config.locate import FILE_NAME, read_toml, user_directory
from fermwatch.errors import ConfigError

NEW_FILE_MODE = 0o644  # it holds no secret; the watcher's user must be able to read it


def target(context: Context, asked: Path | None) -> Path:
    """Where it is to be written: where it was asked for, the configuration that is in force, or the user's own."""
    return asked or context.place.config or user_directory(context.environment) / FILE_NAME


def said_so_far(file: Path) -> tuple[dict[str, Any], str]:
    """What the file says, and its text; nothing where there is none. ConfigError where it cannot be read."""
    return read_toml(file) if file.exists() else ({}, "")


def add(file: Path, text: str, context: Context) -> Loaded:
    """The configuration with `text` behind what it says, as it is loaded then. ConfigError leaves it as it was."""
    before = said_so_far(file)[1]
    whole = f"{before.rstrip()}\n\n{text}" if before.strip() else text
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        descriptor, name = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}.")
        beside = Path(name)
        try:
            with os.fdopen(descriptor, "w", encoding="utf-8") as aside:
                aside.write(whole)
                aside.flush()
                os.fsync(aside.fileno())
            _as_before(file, beside)
            loaded = _proven(beside, file, context)
            beside.replace(file)
        except BaseException:
            with contextlib.suppress(OSError):
                beside.unlink()
            raise
    except OSError as error:
        hint = "Name another file with --write, or run it with sudo."
        raise ConfigError(f"cannot be written: {error.strerror}.", file=file, hint=hint) from error
    return loaded


def _proven(beside: Path, file: Path, context: Context) -> Loaded:
    try:
        return load_file(beside, context)
    except ConfigError as error:
        hint = f"Nothing was written. {error.hint}"
        key, line = error.key, error.line
        message = error.message.replace(str(beside), str(file))
        raise ConfigError(f"with this added: {message}", hint=hint, key=key, line=line) from None


def _as_before(file: Path, beside: Path) -> None:
    try:
        seen = file.stat()
    except FileNotFoundError:
        beside.chmod(NEW_FILE_MODE)
        return
    beside.chmod(stat.S_IMODE(seen.st_mode))
    with contextlib.suppress(PermissionError):  # only root may give a file away
        os.chown(beside, seen.st_uid, seen.st_gid)
