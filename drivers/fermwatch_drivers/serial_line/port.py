"""Opening a serial port, and saying in a person's words why it cannot be opened or was lost."""

import asyncio
import contextlib
import errno
import fcntl
import grp
import os
import pwd
import stat
import termios
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import serial

from fermwatch.errors import ProbeError, ProbeRefused, ProbeUnavailable
from fermwatch.text import clean
from fermwatch_drivers.blocking import in_thread

OPENING_LIMIT_S = 10.0
_SENDING_PAUSE_S = 0.005  # for a port that takes no more at the moment
_PARITY = {"none": serial.PARITY_NONE, "even": serial.PARITY_EVEN, "odd": serial.PARITY_ODD}
_BY_ID = Path("/dev/serial/by-id")
_PTY_SLAVES = range(136, 144)  # the Linux device majors of pseudo-terminals
_MOST_NAMED = 6
_OURS = "another source of this watcher"
_ONE_NAME = "Write the port in the same way in both sources: they then share it."

# Everything that a port may raise when it is opened, read or closed: the three guises of an unplugged adapter
# (SerialException is an OSError) and settings that the driver of the port does not know.
PORT_ERRORS = (OSError, termios.error, ValueError)


class PortSettings(Protocol):
    """What opening a port needs to know of it; parity is "none", "even" or "odd"."""

    @property
    def port(self) -> str: ...
    @property
    def baud(self) -> int: ...
    @property
    def byte_size(self) -> int: ...
    @property
    def parity(self) -> str: ...
    @property
    def stop_bits(self) -> int: ...


def open_port(options: PortSettings) -> serial.Serial:
    """Open and lock the port. May hang as long as the kernel's driver does. Raises ProbeError."""
    port = None
    try:
        port = serial.Serial(
            options.port,
            options.baud,
            options.byte_size,
            _PARITY[options.parity],
            options.stop_bits,
            timeout=0,
            inter_byte_timeout=0,  # makes a read with nothing there an error, so that an empty read means a hang-up
            exclusive=True,
        )
        # The lock above holds only against those who ask for it. A pseudo-terminal would stay closed to us too after
        # we were killed, for it lives as long as its other end.
        if os.major(os.fstat(port.fileno()).st_rdev) not in _PTY_SLAVES:
            fcntl.ioctl(port.fileno(), termios.TIOCEXCL)
    except PORT_ERRORS as error:
        if port is not None:
            port.close()
        raise explain_opening(error, options.port) from error
    return port


async def opened_port(options: PortSettings) -> serial.Serial:
    """The port, opened in a thread, since opening may hang. Raises ProbeError."""
    try:
        return await in_thread(
            lambda: open_port(options), name=f"open {options.port}", limit_s=OPENING_LIMIT_S, discard=close_port
        )
    except TimeoutError:
        raise ProbeUnavailable(
            f"{clean(options.port)} did not open within {OPENING_LIMIT_S:g} s.", hint="Unplug it and plug it in."
        ) from None


def close_port(port: serial.Serial) -> None:
    with contextlib.suppress(*PORT_ERRORS):  # what is unplugged cannot be closed in style, and is gone all the same
        port.close()


async def send(descriptor: int, data: bytes, still_open: Callable[[], bool], port: str) -> None:
    """All of it; a port may take it in pieces, or wait for the far end. Raises PORT_ERRORS, ProbeUnavailable."""
    while data:
        if not still_open():
            raise explain_loss(None, port)
        try:
            data = data[os.write(descriptor, data) :]
        except BlockingIOError:
            await asyncio.sleep(_SENDING_PAUSE_S)


def error_number(error: BaseException) -> int | None:
    """The errno of an error or of what it was raised from: pyserial keeps it in one of several places."""
    if isinstance(error, OSError) and error.errno is not None:
        return error.errno
    if isinstance(error, termios.error) and error.args and isinstance(error.args[0], int):
        return error.args[0]
    return None if error.__context__ is None else error_number(error.__context__)


def explain_opening(error: Exception, port: str) -> ProbeError:
    """The error as a state of the port, with the remedy."""
    number, name = error_number(error), clean(port)
    if number in (errno.ENOENT, errno.ENODEV, errno.ENXIO):
        return ProbeUnavailable(f"There is no port {name}.", hint=f"Is it plugged in? {ports_present()}")
    if number in (errno.EACCES, errno.EPERM):
        group = group_of(port)
        return ProbeRefused(
            f"No permission to open {name}.",
            hint=f"Run: sudo usermod -aG {group} {_user()} and log in anew, since groups are read at login.",
        )
    if number in (errno.EBUSY, errno.EAGAIN):
        found = holders(port)
        hint = _ONE_NAME if _OURS in found else "A port serves one program; end the other one."
        return ProbeRefused(f"{name} is in use{found}.", hint=hint)
    if number == errno.EIO:
        return ProbeUnavailable(f"{name} is there, but answers with an I/O error.", hint="Unplug it and plug it in.")
    if number in (errno.ENOTTY, errno.EISDIR):
        return ProbeRefused(f"{name} is not a serial port.", hint=ports_present())
    if isinstance(error, ValueError) or number == errno.EINVAL:
        return ProbeRefused(
            f"{name} refuses its settings: {clean(str(error))}.", hint="Check baud, byte_size, parity and stop_bits."
        )
    return ProbeUnavailable(f"{name} cannot be opened: {clean(str(error))}.")


def explain_loss(error: Exception | None, port: str) -> ProbeUnavailable:
    """What a person reads when a port that was open has gone."""
    reason = "" if error is None or error_number(error) == errno.EIO else f" ({clean(str(error))})"
    return ProbeUnavailable(
        f"The line to {clean(port)} was lost{reason}.", hint="Unplugged, or its board was restarted?"
    )


def ports_present() -> str:
    """One sentence that names the ports which can be named for good."""
    try:
        names = sorted(entry.name for entry in _BY_ID.iterdir())
    except OSError:
        names = []
    if not names:
        return f"No port is listed in {_BY_ID} now."
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return f"Present now: {', '.join(clean(str(_BY_ID / name), 120) for name in names[:_MOST_NAMED])}{more}."


def group_of(port: str) -> str:
    """The group that may open the port, as its node says; Debian's where that is nobody's or not known."""
    try:
        node = Path(port).stat()
        return grp.getgrgid(node.st_gid).gr_name if node.st_gid and stat.S_IMODE(node.st_mode) & 0o060 else "dialout"
    except (OSError, KeyError):
        return "dialout"


def _user() -> str:
    """The user whom the watcher runs as: not the one who reads this, where it runs as a service."""
    try:
        name = pwd.getpwuid(os.geteuid()).pw_name
    except KeyError:
        return "$USER"
    return "$USER" if name == os.environ.get("USER") else name


def holders(port: str) -> str:
    """ " by NAME (process N)", as far as /proc lets this user see who has the port open."""
    try:
        real = os.path.realpath(port)
        found = [process for process in Path("/proc").iterdir() if process.name.isdecimal() and _holds(process, real)]
    except OSError:
        return ""
    words = [_describe(process) for process in found[:_MOST_NAMED]]
    return f" by {' and '.join(words)}" if words else ""


def _holds(process: Path, real: str) -> bool:
    try:
        return any(str(descriptor.readlink()) == real for descriptor in (process / "fd").iterdir())
    except OSError:  # ended meanwhile, or another user's
        return False


def _describe(process: Path) -> str:
    if int(process.name) == os.getpid():
        return f"{_OURS} (process {process.name})"
    try:
        name = clean((process / "comm").read_bytes().strip())
    except OSError:
        name = "a program"
    return f"{name} (process {process.name})"
