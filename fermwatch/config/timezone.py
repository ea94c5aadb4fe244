"""The time zone that the machine is set to, by its IANA name."""

import zoneinfo
from pathlib import Path

_LINK = Path("etc/localtime")  # localtime(5)
_FILE = Path("etc/timezone")  # Debian's, older
_LONGEST = 100


def machine_timezone(root: Path = Path("/")) -> str:
    """As Europe/Vienna; "UTC" where the machine says none that is known."""
    try:
        names = [str((root / _LINK).readlink()).rpartition("zoneinfo/")[2]]
    except OSError:  # no link, or none there
        names = []
    try:
        names.append((root / _FILE).read_text(encoding="ascii", errors="replace")[:_LONGEST].strip())
    except OSError:  # only some systems write it
        names.append("UTC")
    known = (name.removeprefix("Etc/") for name in names if _is_known(name))
    return next(known, "UTC")


def _is_known(name: str) -> bool:
    try:
        zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True
