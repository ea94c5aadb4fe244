"""What some tests need beside Python packages, and how to get it."""

import os
import shutil
from collections.abc import Mapping

# marker -> (programs, Debian packages)
NEEDS: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "needs_broker": (("mosquitto", "mosquitto_pub", "openssl"), ("mosquitto", "mosquitto-clients", "openssl")),
    "needs_socat": (("socat",), ("socat",)),
    "needs_faketime": (("faketime",), ("faketime",)),
    "needs_systemd": (("systemd-analyze",), ("systemd",)),
    "needs_tmux": (("tmux",), ("tmux",)),
}
DAEMONS = ":/usr/local/sbin:/usr/sbin"  # where daemons lie, and not on every user's path


def missing() -> dict[str, tuple[str, ...]]:
    """marker -> Debian packages, for what this machine lacks."""
    path = os.environ.get("PATH", os.defpath) + DAEMONS
    return {
        marker: packages
        for marker, (programs, packages) in NEEDS.items()
        if any(shutil.which(program, path=path) is None for program in programs)
    }


def everything_is_wanted() -> bool:
    return os.environ.get("FERMWATCH_ALL") == "1"
