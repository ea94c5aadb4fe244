"""Programs that a notifier runs in tests, and alarms that stand in a site's store before anybody watches."""

import json
import sys
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from fermwatch.model.finding import Alarm, Condition, Severity
from fermwatch.model.probe import Vessel
from tests.support.running import Site
from tests.support.stores import open_writer

# Keeps what it is given as a line, and then does what a test wants of it.
KEEPS = """#!{python}
import os, signal, sys, time
with open({kept!r}, "a") as file:
    file.write(sys.stdin.read().replace("\\n", " ") + "\\n")
    file.flush(); os.fsync(file.fileno())
{then}
"""
KILLS_THE_WATCHER = "os.kill(os.getppid(), signal.SIGKILL)"
HANGS = "time.sleep(3600)"
FAILS = 'sys.exit("no net: \\x1b[31mred")'


def program(directory: Path, then: str = "", name: str = "tell") -> tuple[Path, Path]:
    """A program to be run, and the file in which it keeps what it was told."""
    directory.mkdir(parents=True, exist_ok=True)
    file, kept = directory / name, directory / f"{name}.kept"
    file.write_text(KEEPS.format(python=sys.executable, kept=str(kept), then=then))
    file.chmod(0o755)
    return file, kept


def by_command(name: str, file: Path, *more: str) -> str:
    return "\n".join(("[[notify]]", f'name = "{name}"', 'by = "command"', f'run = ["{file}"]', *more))


def messages(kept: Path) -> Sequence[dict[str, Any]]:
    return [json.loads(line) for line in kept.read_text().splitlines()] if kept.exists() else []


def standing(subject: str = "site:cellar", severity: Severity = Severity.CRITICAL, **more: Any) -> Alarm:  # noqa: ANN401
    """Raised an hour ago, and seen by nobody; of the site, where no rule looks at it anew."""
    since = datetime.now(UTC) - timedelta(hours=1)
    alarm = Alarm("temperature-high", subject, Condition.RAISED, severity, since, raised_at=since, occurrence=1)
    said = {"statement": "24.1 in place of 17 to 21", "remedy": "Cool it by hand.", **more}
    return Alarm(**{**{name: getattr(alarm, name) for name in alarm.__slots__}, **said})


def lay(site: Site, *alarms: Alarm) -> None:
    """Into the store that the site's watcher will open."""
    now = datetime.now(UTC) - timedelta(hours=2)
    with open_writer(site.store, "home", now, ballast_bytes=4096) as writer:
        writer.declare("UTC", [Vessel("left", "Left bucket", 30.0)], [], now)
        writer.save_alarms(alarms, [])
