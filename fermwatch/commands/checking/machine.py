"""The machine itself: its clock, its disk, and what this user may do."""

import ctypes
import os
import shutil
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from fermwatch.access import no_access, user_name
from fermwatch.clock import WRITTEN
from fermwatch.commands.checking.checked import CheckLine, look, mend, ok
from fermwatch.config.load import Loaded
from fermwatch.config.timezone import machine_timezone
from fermwatch.inbox.sending import inbox_directory

SCARCE_BYTES, LITTLE_BYTES = 200 * 1024**2, 1024**3
_TIME_ERROR = 5  # adjtimex(2): the clock is not synchronised
_TIMEX_BYTES = 1024  # more than struct timex has anywhere
_IN_MEMORY = {"tmpfs", "ramfs"}
_AT_NIGHT = "Without it the times of readings, and with them paces and dates, are wrong."


def clock(loaded: Loaded, now: datetime, root: Path = Path("/")) -> Iterator[CheckLine]:
    """Whether it is set, kept by something, and shown in the zone where the machine stands."""
    kept = is_synchronised()
    if now < WRITTEN:
        yield mend("clock", f"it says {now:%Y-%m-%d}, which is over.", f"Set it: timedatectl set-ntp true. {_AT_NIGHT}")
    elif kept is None:
        yield look("clock", f"it says {now:%Y-%m-%d %H:%M} UTC; whether it is kept right cannot be seen here.")
    elif not kept:
        remedy = f"Run: sudo timedatectl set-ntp true. {_AT_NIGHT}"
        yield look("clock", f"it says {now:%Y-%m-%d %H:%M} UTC, and nothing keeps it right.", remedy)
    else:
        yield ok("clock", f"it says {now:%Y-%m-%d %H:%M} UTC, and is kept right.")
    said, machine = loaded.config.site.timezone, machine_timezone(root)
    if said == "UTC" != machine:
        text = f"times are shown in UTC, and this machine stands in {machine}."
        yield look("timezone", text, f'Say timezone = "{machine}" under [site].')
    else:
        yield ok("timezone", f"times are shown in {said}.")


def is_synchronised() -> bool | None:
    """Whether the kernel's clock is kept by a time server (adjtimex(2)); None where the system does not tell."""
    try:
        state = ctypes.CDLL(None, use_errno=True).adjtimex(ctypes.create_string_buffer(_TIMEX_BYTES))
    except (OSError, AttributeError):  # another system
        return None
    return None if state < 0 else state != _TIME_ERROR


def disk(loaded: Loaded, root: Path = Path("/")) -> Iterator[CheckLine]:
    """Room, and on what the store lies."""
    place = _nearest(loaded.store)
    try:
        free = shutil.disk_usage(place).free
        read_only = bool(os.statvfs(place).f_flag & os.ST_RDONLY)
        device = place.stat().st_dev
    except OSError as error:
        yield mend("disk", f"{place} cannot be looked at: {error.strerror}.")
        return
    room = f"{free / 1024**3:.1f} GiB free where {loaded.store} lies"
    if read_only:
        yield mend("disk", f"{place} is mounted to be read only.", "A card that fails is mounted so: see dmesg.")
    elif free < SCARCE_BYTES:
        yield mend("disk", f"{room}: too little.", "Free some: what does not fit waits, and is lost in a power cut.")
    elif free < LITTLE_BYTES:
        yield look("disk", f"{room}: little.", "Free some before it is full.")
    else:
        yield ok("disk", f"{room}.")
    if _kind_of_mount(place, root / "proc/mounts") in _IN_MEMORY:
        yield mend("disk", f"{place} lies in memory: gone when the power goes.", "Name another [store] directory.")
    if _is_card(device, root / "sys/dev/block") and not loaded.config.store.commit_every_s:
        remedy = "commit_every_s = 30 under [store] spares it; a power cut may then cost as long. Keep backups."
        yield look("disk", "the store lies on a memory card, which wears out by writing.", remedy)


def _nearest(path: Path) -> Path:
    """The path, or the nearest above that is there."""
    return next((one for one in (path, *path.parents) if one.exists()), Path("/"))


def _kind_of_mount(place: Path, mounts: Path) -> str:
    try:
        rows = [line.split() for line in mounts.read_text(encoding="utf-8", errors="replace").splitlines()]
    except OSError:  # no such list here
        return ""
    real = place.resolve()
    found = [(len(row[1]), row[2]) for row in rows if len(row) > 2 and real.is_relative_to(row[1])]
    return max(found, default=(0, ""))[1]


def _is_card(device: int, devices: Path) -> bool:
    try:
        return "mmcblk" in str((devices / f"{os.major(device)}:{os.minor(device)}").readlink())
    except OSError:  # no disk of its own, as a network's or a container's
        return False


def permissions(loaded: Loaded) -> Iterator[CheckLine]:
    """Whether this user may look, and may ask."""
    user, store = user_name(os.geteuid()), loaded.store
    inbox = inbox_directory(store, loaded.config.site.name)
    if not store.exists():
        may = os.access(_nearest(store), os.W_OK | os.X_OK)
        text = f"{store} is not there yet: the watcher makes it"
        yield look("store", f"{text}." if may else f"{text}, and {user} may not make it there.", "" if may else _MADE)
        return
    if not os.access(store, os.R_OK | os.X_OK):
        error = no_access(store, "read")
        yield mend("store", error.message, error.hint)
        return
    if not inbox.is_dir():
        yield look("inbox", f"{inbox} is not there yet: the watcher makes it.")
    elif not os.access(inbox, os.W_OK | os.X_OK):
        error = no_access(inbox, "written")
        yield look("inbox", f"{error.message} So {user} may look, and not measure, note or acknowledge.", error.hint)
    else:
        yield ok("inbox", f"{user} may look, measure, note and acknowledge.")


_MADE = "As a service it has a place of its own: sudo fermwatch init. Else name a [store] directory that you may write."
