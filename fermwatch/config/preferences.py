"""What one person prefers, apart from any site: a small file of their own, written whole or not at all."""

import contextlib
import json
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

from fermwatch.config.locate import read_toml, user_directory
from fermwatch.errors import ConfigError

FILE_NAME = "preferences.toml"


def preferences_file(environment: Mapping[str, str]) -> Path:
    return user_directory(environment) / FILE_NAME


def saved_units(environment: Mapping[str, str]) -> str:
    """The words that units were chosen with; empty where nothing was. ConfigError names the file and the remedy."""
    file = preferences_file(environment)
    try:
        file.lstat()
    except (FileNotFoundError, NotADirectoryError):
        return ""
    except OSError as error:
        raise ConfigError(f"cannot be read: {error.strerror}.", file=file) from error
    said = read_toml(file)[0].get("units", "")
    if not isinstance(said, str):
        raise ConfigError('must be words in quotes, as "us".', file=file, key="units", hint="Say: fermwatch units us")
    return said


def saved_look(environment: Mapping[str, str]) -> str:
    """The colours that were chosen; empty where nothing was, or nothing that can be read."""
    try:
        said = read_toml(preferences_file(environment))[0].get("look", "")
    except (ConfigError, OSError):
        return ""
    return said if isinstance(said, str) else ""


def save_units(words: str, environment: Mapping[str, str]) -> Path:
    """The file. ConfigError where it cannot be written."""
    return _save({"units": words, "look": saved_look(environment)}, environment)


def save_look(look: str, environment: Mapping[str, str]) -> Path:
    """The file. ConfigError where it cannot be written, or holds what cannot be kept beside it."""
    return _save({"units": saved_units(environment), "look": look}, environment)


def _save(said: Mapping[str, str], environment: Mapping[str, str]) -> Path:
    """What is empty is left out."""
    file = preferences_file(environment)
    lines = "".join(f"{name} = {json.dumps(words)}\n" for name, words in said.items() if words)
    text = "# What fermwatch was told: `fermwatch units`, and the colours of the dashboard.\n" + lines
    write_whole(file, text, hint="Until it can: --units, or FERMWATCH_UNITS in the environment.")
    return file


def write_whole(file: Path, text: str, *, hint: str) -> None:
    """In one step that a power cut cannot halve. ConfigError, with the hint, where it cannot be written."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        descriptor, beside = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}.")
        try:
            with os.fdopen(descriptor, "w", encoding="utf-8") as aside:
                aside.write(text)
                aside.flush()
                os.fsync(aside.fileno())
            Path(beside).replace(file)
        except BaseException:
            with contextlib.suppress(OSError):
                Path(beside).unlink()
            raise
    except OSError as error:
        raise ConfigError(f"cannot be written: {error.strerror}.", file=file, hint=hint) from error
