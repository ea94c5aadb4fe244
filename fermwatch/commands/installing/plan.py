"""What is to be done to a machine as it was found, command by command. Pure: nothing here looks, and nothing runs."""

import shlex
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from fermwatch.access import GROUP
from fermwatch.commands.installing.unit import NAME, unit
from fermwatch.config.locate import FILE_NAME, SYSTEM_DIRECTORY, SYSTEM_STATE
from fermwatch.errors import FermwatchError

USER = GROUP
CONFIG = SYSTEM_DIRECTORY / FILE_NAME
UNIT = Path("/etc/systemd/system") / NAME
COPY = Path("/opt/fermwatch")
SHORTCUT = Path("/usr/local/bin/fermwatch")
_OURS = "# Written by `fermwatch init`."
STAMP = COPY / ".made-by-fermwatch-init"  # what is not marked so is never replaced or deleted
_NEVER_FROM = (Path("/home"), Path("/root"), Path("/run/user"), Path("/tmp"))  # noqa: S108 - hidden from the service


@dataclass(frozen=True, slots=True)
class CommandStep:
    """One command. text: what it is fed, where it writes a file."""

    why: str
    command: tuple[str, ...]
    text: str | None = None

    @property
    def shown(self) -> str:
        """As it could be typed."""
        return shlex.join(self.command).replace("/dev/stdin ", "")


@dataclass(frozen=True, slots=True)
class Program:
    """Where fermwatch is installed. prefix: of its virtual environment. base: of the Python below it. working_copy: it
    runs from a developer's tree. alone: the environment is its own, and may be copied."""

    prefix: Path
    base: Path
    python: Path
    version: str
    working_copy: bool
    alone: bool

    @property
    def hidden(self) -> bool:
        """Whether a service may not go there."""
        return is_hidden(self.prefix)


def is_hidden(path: Path) -> bool:
    """Whether the service cannot see it (ProtectHome, PrivateTmp)."""
    return any(path.is_relative_to(one) for one in _NEVER_FROM)


@dataclass(frozen=True, slots=True)
class Machine:
    """As it was found. Groups by name, with their members; directories with (owner, group, mode); files with texts.

    person: who is to use it, by name; empty where nobody but root asked. own: that person's configuration, which goes
    before the machine's for whatever that person types, and which the machine's begins as; None where there is none.
    store: where the configuration keeps readings, where that is not the usual place.
    """

    program: Program
    is_root: bool
    has_systemd: bool
    has_user: bool
    groups: Mapping[str, frozenset[str]]
    directories: Mapping[Path, tuple[str, str, int]]
    files: Mapping[Path, str]
    active: bool
    enabled: bool
    person: str
    first_text: str
    own: Path | None = None
    store: Path | None = None

    @property
    def serial_group(self) -> str:
        """Who may open serial ports: Debian's name, or others'."""
        return next((name for name in ("dialout", "uucp") if name in self.groups), "")


def refuse(machine: Machine, *, removing: bool, again: str) -> None:
    """FermwatchError where it cannot be done here. again: the command as it was typed, without `fermwatch`."""
    if not machine.has_systemd:
        raise FermwatchError(
            "This machine is not run by systemd, so there is no service to make.",
            hint="Have whatever starts programs here run `fermwatch watch`; --dry-run shows what would be done.",
        )
    if not machine.is_root:
        raise FermwatchError(
            "Users and services are made by root alone.",
            hint=f"Run: sudo {machine.program.python} -m fermwatch {again}. It shows every command, and asks once.",
        )
    if not removing and machine.program.working_copy and machine.program.hidden:
        raise FermwatchError(
            f"fermwatch runs from a working copy below {machine.program.prefix}, where no service may go.",
            hint="Install its wheel with pipx or pip, or move the working copy to /opt.",
        )
    if not removing and is_hidden(machine.program.base):
        raise FermwatchError(
            f"fermwatch runs by the Python in {machine.program.base}, where no service may go.",
            hint="Install it with the system's own Python 3.11 or newer: /usr/bin/python3 -m venv.",
        )
    if not removing and machine.program.hidden and not machine.program.alone:
        raise FermwatchError(
            f"fermwatch is installed into {machine.program.prefix}, where no service may go.",
            hint="Install it into an environment of its own: pipx install, or python3 -m venv.",
        )


def install(machine: Machine) -> tuple[CommandStep, ...]:
    """What is missing, in order; nothing where all is there already."""
    return tuple(_install(machine))


def _install(machine: Machine) -> Iterator[CommandStep]:
    if GROUP not in machine.groups:
        yield CommandStep("a group for all who may look and measure", ("groupadd", "--system", GROUP))
    serial = machine.serial_group
    if not machine.has_user:
        words = ("useradd", "--system", "--gid", GROUP, "--home-dir", str(SYSTEM_STATE), "--no-create-home")
        nobody = ("--shell", "/usr/sbin/nologin", USER)
        yield CommandStep("a user for the watcher, who cannot log in", (*words, *nobody))
    if serial and USER not in machine.groups[serial]:
        yield CommandStep("the watcher may open serial ports", ("usermod", "-aG", serial, USER))
    if machine.person and machine.person not in machine.groups.get(GROUP, frozenset()):
        yield CommandStep(f"{machine.person} may look and measure", ("usermod", "-aG", GROUP, machine.person))
    if serial and machine.person and machine.person not in machine.groups[serial]:
        yield CommandStep(f"{machine.person} may listen at serial ports", ("usermod", "-aG", serial, machine.person))
    yield from _directory(machine, SYSTEM_DIRECTORY, "root", GROUP, 0o750, "the configuration's directory")
    yield from _directory(machine, SYSTEM_STATE, USER, GROUP, 0o2750, "the readings' directory")
    if CONFIG not in machine.files:
        yield _write(CONFIG, machine.first_text, "root", GROUP, 0o640, "a configuration to begin with")
        if machine.own is not None:
            aside = str(machine.own.with_suffix(".before-init"))
            yield CommandStep(f"what {machine.person} types means the machine's then", ("mv", str(machine.own), aside))
    yield from _copy(machine)
    yield from _service(machine)


def _directory(machine: Machine, path: Path, owner: str, group: str, mode: int, why: str) -> Iterator[CommandStep]:
    if machine.directories.get(path) != (owner, group, mode):
        yield CommandStep(why, ("install", "-d", "-o", owner, "-g", group, "-m", f"{mode:04o}", str(path)))


def _write(path: Path, text: str, owner: str, group: str, mode: int, why: str) -> CommandStep:
    words = ("install", "-o", owner, "-g", group, "-m", f"{mode:04o}", "/dev/stdin", str(path))
    return CommandStep(why, words, text)


def _copy(machine: Machine) -> Iterator[CommandStep]:
    """Out of a home, where the service may not go; its own interpreter finds it there."""
    program = machine.program
    if not program.hidden or machine.files.get(STAMP, "").strip() == program.version:
        return
    if COPY in machine.directories:
        if STAMP not in machine.files:
            hint = f"Move it away, or run fermwatch from there: {COPY}/bin/python -m fermwatch init"
            raise FermwatchError(f"{COPY} is there, and was not made by fermwatch init.", hint=hint)
        yield CommandStep("the copy of another version goes", ("rm", "-r", str(COPY)))
    copying = ("cp", "-r", "--no-preserve=ownership", str(program.prefix), str(COPY))
    yield CommandStep("the program, where a service may go", copying)
    yield CommandStep("which all may read", ("chmod", "-R", "a+rX,go-w", str(COPY)))
    yield _write(STAMP, f"{program.version}\n", "root", "root", 0o644, "marked as ours")


def _service(machine: Machine) -> Iterator[CommandStep]:
    python = COPY / "bin" / "python" if machine.program.hidden else machine.program.python
    shortcut = f'#!/bin/sh\n{_OURS}\nexec {python} -m fermwatch "$@"\n'
    there = machine.files.get(SHORTCUT)
    if there is None or (there != shortcut and _OURS in there):
        yield _write(SHORTCUT, shortcut, "root", "root", 0o755, "the command for everybody, and for sudo")
    text = unit((str(python), "-m", "fermwatch"), CONFIG, USER, machine.serial_group, machine.store)
    if machine.files.get(UNIT) != text:
        yield _write(UNIT, text, "root", "root", 0o644, "the service")
        yield CommandStep("systemd reads it", ("systemctl", "daemon-reload"))
        if machine.active:
            yield CommandStep("the watcher takes it up", ("systemctl", "restart", NAME))
    if not (machine.active and machine.enabled):
        yield CommandStep("the watcher starts, now and with the machine", ("systemctl", "enable", "--now", NAME))


def remove(machine: Machine, *, with_readings: bool) -> tuple[CommandStep, ...]:
    """What takes it away again. Readings and configuration, with the user who owns them, stay unless said otherwise."""
    return tuple(_remove(machine, with_readings=with_readings))


def _remove(machine: Machine, *, with_readings: bool) -> Iterator[CommandStep]:
    if machine.active or machine.enabled:
        yield CommandStep("the watcher stops, and starts no more", ("systemctl", "disable", "--now", NAME))
    if UNIT in machine.files:
        yield CommandStep("the service goes", ("rm", str(UNIT)))
        yield CommandStep("systemd forgets it", ("systemctl", "daemon-reload"))
    if with_readings:
        yield from _remove_readings(machine)
    if _OURS in machine.files.get(SHORTCUT, ""):  # late: where a step before fails, it is to be typed again
        yield CommandStep("the command goes", ("rm", str(SHORTCUT)))
    if STAMP in machine.files:
        yield CommandStep("the copy of the program goes", ("rm", "-r", str(COPY)))


def _remove_readings(machine: Machine) -> Iterator[CommandStep]:
    for path, why in ((SYSTEM_STATE, "all readings and batches go"), (SYSTEM_DIRECTORY, "the configuration goes")):
        if path in machine.directories:
            yield CommandStep(why, ("rm", "-r", str(path)))
    if machine.has_user:
        yield CommandStep("the watcher's user goes", ("userdel", USER))
    if GROUP in machine.groups:
        yield CommandStep("the group goes", ("groupdel", GROUP))


def _above_the_sea(altitude_m: float) -> str:
    return f"altitude_m = {altitude_m:<8.0f} # metres above the sea: beer holds less CO2 in thin air"


def first_text(timezone: str) -> str:
    """A configuration to begin with: nothing is watched yet."""
    return f"""\
# What fermwatch watches. `sudo fermwatch listen` adds to it what your probes say; `fermwatch check` looks it through;
# `sudo systemctl reload fermwatch` has the watcher take it up. docs/setting-up.md shows what may stand here.
[site]
name = "home"
timezone = "{timezone}"
{_above_the_sea(0.0)}
"""


def at_altitude(text: str, altitude_m: float) -> str:
    """That configuration, for a place so high above the sea."""
    return text.replace(_above_the_sea(0.0), _above_the_sea(altitude_m), 1)


def described(steps: Sequence[CommandStep]) -> list[str]:
    """Every command with its reason, and what a file will hold."""
    lines = []
    for number, step in enumerate(steps, start=1):
        lines += [f"{number:>2}. {step.why}", f"      {step.shown}"]
        if step.text is not None:
            lines += [f"      | {line}" for line in step.text.splitlines()]
    return lines
