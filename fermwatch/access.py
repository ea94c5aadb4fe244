"""Who may not read the store or write the inbox is told so in one sentence, with what lets them."""

import grp
import os
import pwd
import stat
from pathlib import Path

from fermwatch.errors import StoreForbidden
from fermwatch.text import clean

GROUP = "fermwatch"


def user_name(uid: int) -> str:
    """The name of a user, by the system's own book; never as claimed."""
    try:
        return clean(pwd.getpwuid(uid).pw_name, 40)
    except (KeyError, OSError):
        return f"uid {uid}"


def no_access(path: Path, done: str) -> StoreForbidden:
    """The error for `path`, which this user may not have `done` ("read", "written"): join its group, or look."""
    user = user_name(os.geteuid())
    gid = _group_of(path)
    member = gid is not None and gid in {os.getegid(), *os.getgroups()}
    if member or not _group_may(path, done):
        return StoreForbidden(
            f"{path} may not be {done} by {user}.", hint=f"Check who owns it, and its mode: ls -ld {path}"
        )
    group = _group_name(gid)
    return StoreForbidden(
        f"{path} may not be {done} by {user}, who is not in the group {group}.",
        hint=f"sudo usermod -aG {group} {user}, then log in anew.",
    )


def _group_may(path: Path, done: str) -> bool:
    """Whether its group could do it; where nobody can look, it is taken for so."""
    try:
        mode = path.stat().st_mode
    except OSError:
        return True
    needed = stat.S_IWGRP if done == "written" else stat.S_IXGRP if stat.S_ISDIR(mode) else stat.S_IRGRP
    return bool(mode & needed)


def _group_of(path: Path) -> int | None:
    """The group of the nearest directory above that can be looked at."""
    for each in (path, *path.parents):
        try:
            seen = each.stat()
        except OSError:
            continue
        return None if seen.st_gid == 0 else seen.st_gid
    return None


def _group_name(gid: int | None) -> str:
    try:
        return GROUP if gid is None else clean(grp.getgrgid(gid).gr_name, 40)
    except (KeyError, OSError):
        return GROUP
