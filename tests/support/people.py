"""Users of this machine for tests that run as root: the service, a member of its group, and somebody outside.

None of them needs an account: a number is enough for the kernel, and is how the program then names them.
"""

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

GROUP = 61_000


@dataclass(frozen=True)
class Person:
    uid: int
    gid: int

    @property
    def words(self) -> tuple[str, ...]:
        """What runs a program as this person."""
        return ("setpriv", f"--reuid={self.uid}", f"--regid={self.gid}", "--clear-groups")

    def runs(self, *words: str, **environment: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [*self.words, *words],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
            env={**os.environ, **environment},
        )

    def python(self, program: str) -> None:
        """Run a few lines of Python as this person."""
        done = self.runs(sys.executable, "-c", program)
        assert done.returncode == 0, done.stderr


SERVICE = Person(61_001, GROUP)
MEMBER = Person(61_002, GROUP)
OTHER_MEMBER = Person(61_003, GROUP)
OUTSIDER = Person(61_004, 61_004)


def root_is_needed() -> pytest.MarkDecorator:
    """For a test that becomes other users: only root can, and they must be able to read this checkout."""
    return pytest.mark.skipif(os.geteuid() != 0, reason="needs root, to become other users")


@contextmanager
def directory_of_all() -> Iterator[Path]:
    """A directory that every user of the machine may enter, which pytest's own are not."""
    directory = Path(tempfile.mkdtemp(prefix="fermwatch-people-"))
    directory.chmod(0o755)
    try:
        yield directory
    finally:
        shutil.rmtree(directory, ignore_errors=True)
