"""The machine as it is, for the plan."""

import grp
import os
import pwd
import stat
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import fermwatch
from fermwatch.access import GROUP, user_name
from fermwatch.commands.installing.plan import (
    CONFIG,
    COPY,
    SHORTCUT,
    STAMP,
    UNIT,
    USER,
    Machine,
    Program,
    first_text,
)
from fermwatch.commands.installing.unit import NAME
from fermwatch.config.locate import FILE_NAME, SYSTEM_DIRECTORY, SYSTEM_STATE, read_toml
from fermwatch.config.timezone import machine_timezone
from fermwatch.errors import ConfigError
from fermwatch.files import read_short

_LONGEST = 256 * 1024
_GROUPS = (GROUP, "dialout", "uucp")


def look(environment: Mapping[str, str], root: Path = Path("/")) -> Machine:
    """What is there below `root`; users and groups are the running system's."""
    person = environment.get("SUDO_USER", "")
    own = _own(person)
    files = {path: text for path in (CONFIG, UNIT, STAMP, SHORTCUT) if (text := _text(_below(root, path))) is not None}
    return Machine(
        program=_program(),
        is_root=os.geteuid() == 0,
        has_systemd=_below(root, Path("/run/systemd/system")).is_dir(),
        has_user=_has_user(USER),
        groups={name: members for name in _GROUPS if (members := _members(name)) is not None},
        directories={
            path: seen
            for path in (SYSTEM_DIRECTORY, SYSTEM_STATE, COPY)
            if (seen := _directory(_below(root, path))) is not None
        },
        files=files,
        active=_systemd_says("is-active"),
        enabled=_systemd_says("is-enabled"),
        person="" if person == "root" else person,
        first_text=first_text(machine_timezone(root)) if own is None else _text(own) or "",
        own=own,
        store=_store(_below(root, CONFIG)),
    )


def _below(root: Path, path: Path) -> Path:
    return root / path.relative_to("/")


def _program() -> Program:
    home = Path(fermwatch.__file__).resolve().parent
    prefix = Path(sys.prefix)
    return Program(
        prefix=prefix,
        base=Path(sys.base_prefix).resolve(),
        python=prefix / "bin" / "python" if sys.prefix != sys.base_prefix else Path(sys.executable),
        version=fermwatch.__version__,
        working_copy=not home.is_relative_to(prefix.resolve()),
        alone=sys.prefix != sys.base_prefix,
    )


def _has_user(name: str) -> bool:
    try:
        pwd.getpwnam(name)
    except KeyError:
        return False
    return True


def _members(name: str) -> frozenset[str] | None:
    """Also of those whose first group it is; None where there is no such group."""
    try:
        group = grp.getgrnam(name)
    except KeyError:
        return None
    return frozenset(group.gr_mem) | {one.pw_name for one in pwd.getpwall() if one.pw_gid == group.gr_gid}


def _directory(path: Path) -> tuple[str, str, int] | None:
    try:
        seen = path.stat()
    except OSError:
        return None
    try:
        group = grp.getgrgid(seen.st_gid).gr_name
    except KeyError:
        group = str(seen.st_gid)
    return user_name(seen.st_uid), group, stat.S_IMODE(seen.st_mode)


def _text(path: Path) -> str | None:
    try:
        return read_short(path, _LONGEST).decode("utf-8", "replace")
    except OSError:
        return None


def _own(person: str) -> Path | None:
    """What that person has configured so far, where it is one that a service can be given: with no store of its own."""
    if not person or not _has_user(person):
        return None
    file = Path(pwd.getpwnam(person).pw_dir) / ".config" / "fermwatch" / FILE_NAME
    try:
        said = read_toml(file)[0]
    except ConfigError:  # none, or one that cannot be used anyway
        return None
    store = said.get("store", {})
    return file if isinstance(store, dict) and "directory" not in store else None


def _store(config: Path) -> Path | None:
    """Where the machine's configuration keeps readings, if elsewhere than usual."""
    try:
        said = read_toml(config)[0].get("store", {})
    except ConfigError:  # none yet, or the watcher will tell what is wrong with it
        return None
    directory = said.get("directory") if isinstance(said, dict) else None
    return (config.parent / directory).resolve() if isinstance(directory, str) else None


def _systemd_says(question: str) -> bool:
    try:
        done = subprocess.run(["systemctl", question, "--quiet", NAME], check=False, capture_output=True, timeout=20)
    except (OSError, subprocess.TimeoutExpired):  # no systemd
        return False
    return done.returncode == 0
