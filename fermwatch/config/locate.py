"""Where the configuration and the store are. Standard library only, so that a dashboard starts quickly.

First found wins: `--config`, `$FERMWATCH_CONFIG`, the user's own, the machine's. The store's place: `--store`,
`$FERMWATCH_STORE`, the configuration's `[store] directory`, and else beside the user's other state.
"""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fermwatch.access import no_access
from fermwatch.config.lines import dotted, leaves, line_of
from fermwatch.errors import ConfigError
from fermwatch.files import read_short

FILE_NAME = "fermwatch.toml"
SYSTEM_DIRECTORY = Path("/etc/fermwatch")
SYSTEM_STATE = Path("/var/lib/fermwatch")
MAX_BYTES = 256 * 1024  # a configuration is short: more is a mistake or an attack
DEFAULT_SITE = "home"


@dataclass(frozen=True, slots=True)
class Place:
    """Where the store is, absolute, and which site is meant; `config` is None where no configuration was found."""

    store: Path
    site: str
    config: Path | None


def find_config(asked: Path | None, environment: Mapping[str, str]) -> Path | None:
    """The configuration to use. ConfigError where one was asked for by name and is not there."""
    named = asked or (Path(environment["FERMWATCH_CONFIG"]) if environment.get("FERMWATCH_CONFIG") else None)
    if named is not None:
        if _is(named, Path.is_dir):
            raise ConfigError("that is a directory.", file=named, hint=f"Name the file in it: {named / FILE_NAME}")
        origin = f"It was named by {'--config' if asked else 'FERMWATCH_CONFIG'}."
        if not _is(named, Path.exists):
            raise ConfigError("there is no such file.", file=named, hint=origin)
        if not _is(named, Path.is_file):
            hint = f"{origin} It is read more than once: write it into a file."
            raise ConfigError("it is no regular file.", file=named, hint=hint)
        return named
    for candidate in (user_directory(environment) / FILE_NAME, SYSTEM_DIRECTORY / FILE_NAME):
        if _is(candidate, Path.is_file):
            return candidate
    return None


def _is(path: Path, what: Callable[[Path], bool]) -> bool:
    """StoreForbidden for who may not so much as look."""
    try:
        return what(path)
    except PermissionError:
        raise no_access(path, "read") from None


def user_directory(environment: Mapping[str, str]) -> Path:
    base = environment.get("XDG_CONFIG_HOME")
    return (Path(base) if base else _home(environment) / ".config") / "fermwatch"


def _home(environment: Mapping[str, str]) -> Path:
    return Path(environment["HOME"]) if environment.get("HOME") else Path.home()


def default_store(config: Path | None, environment: Mapping[str, str]) -> Path:
    """The machine's state directory for the machine's configuration, the user's own otherwise."""
    if config is not None and config.parent == SYSTEM_DIRECTORY:
        return SYSTEM_STATE
    base = environment.get("XDG_STATE_HOME")
    return (Path(base) if base else _home(environment) / ".local" / "state").absolute() / "fermwatch"


def read_toml(file: Path) -> tuple[dict[str, Any], str]:
    """The parsed file and its text. ConfigError names the file, and the line of a syntax error."""
    try:
        raw = read_short(file, MAX_BYTES)
    except PermissionError:
        raise no_access(file, "read") from None
    except OSError as error:
        raise ConfigError(f"cannot be read: {error.strerror}.", file=file, hint=f"Try: ls -l {file}") from error
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise ConfigError("is not UTF-8 text.", file=file, line=line, hint="Save it as UTF-8.") from error
    try:
        said = tomllib.loads(text)
        _refuse_nul(said, file, text)
    except (ValueError, RecursionError) as error:  # a syntax error, a number or a nesting without end
        raise ConfigError(
            f"is not TOML: {error}.", file=file, hint="Strings want quotes, tables [brackets]."
        ) from error
    return said, text


def _refuse_nul(said: dict[str, Any], file: Path, text: str) -> None:
    """No path, topic or name can hold one, and much that takes a path fails on it in its own way."""
    for place, value in leaves(said):
        if isinstance(value, str) and "\0" in value:
            line, key = line_of(text, place), dotted(place)
            raise ConfigError("holds a NUL character.", file=file, line=line, key=key, hint="Take \\u0000 out of it.")


def locate(config: Path | None, store: Path | None, site: str | None, environment: Mapping[str, str]) -> Place:
    """Where the store is, without looking at what the configuration says of the hardware."""
    found = find_config(config, environment)
    said: dict[str, Any] = read_toml(found)[0] if found is not None else {}
    directory = store or (Path(environment["FERMWATCH_STORE"]) if environment.get("FERMWATCH_STORE") else None)
    if directory is None:
        directory = _directory(said, found) or default_store(found, environment)
    return Place(directory.absolute(), site or environment.get("FERMWATCH_SITE") or _site(said, found), found)


def _directory(said: Mapping[str, Any], file: Path | None) -> Path | None:
    table = said.get("store", {})
    directory = table.get("directory") if isinstance(table, dict) else None
    if directory is None or file is None:
        return None
    if not isinstance(directory, str):
        raise ConfigError("must be a path in quotes.", file=file, key="store.directory")
    return (file.parent / Path(directory).expanduser()).resolve()


def _site(said: Mapping[str, Any], file: Path | None) -> str:
    table = said.get("site", {})
    name = table.get("name", DEFAULT_SITE) if isinstance(table, dict) else DEFAULT_SITE
    if not isinstance(name, str):
        raise ConfigError("must be a name in quotes.", file=file, key="site.name")
    return name
