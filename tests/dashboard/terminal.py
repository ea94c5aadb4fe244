"""The dashboard in a process of its own, on a real pseudo-terminal, and what it sends there."""

import fcntl
import os
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import Self

import pyte

ROOT = Path(__file__).parents[2]
GUARD_S = 40.0


class Terminal:
    """A program on a pty of a given size; `sent` is every byte it wrote, `screen` what a terminal would show."""

    def __init__(
        self, arguments: list[str], *, columns: int = 80, rows: int = 24, environment: Mapping[str, str] | None = None
    ) -> None:
        self.sent = bytearray()
        self._screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self._screen)
        self.master, slave = os.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        plain = {"PATH": os.environ["PATH"], "HOME": os.environ["HOME"], "TERM": "xterm-256color", "LANG": "C.UTF-8"}
        self.process = subprocess.Popen(
            [sys.executable, *arguments],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=ROOT,
            env=plain | dict(environment or {}),
            start_new_session=True,
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),  # noqa: PLW1509 - one thread, before exec
        )
        os.close(slave)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.hang_up()
        try:
            self.process.wait(5)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait(5)

    def listen(self, seconds: float) -> bytes:
        """What is sent within the time; shorter where the program ends."""
        end = time.monotonic() + seconds
        heard = bytearray()
        while (left := end - time.monotonic()) > 0:
            if not select.select([self.master], [], [], left)[0]:
                break
            try:
                data = os.read(self.master, 65536)
            except OSError:  # Linux says so where nobody holds the other end any more
                break
            if not data:
                break
            heard += data
        self.sent += heard
        self._stream.feed(_understood(bytes(heard)))
        return bytes(heard)

    @property
    def screen(self) -> str:
        return "\n".join(line.rstrip() for line in self._screen.display)

    def first_byte(self) -> None:
        """Wait for the first thing that it sends, and not a moment longer."""
        assert select.select([self.master], [], [], GUARD_S)[0], "it says nothing"

    def until(self, words: str) -> str:
        end = time.monotonic() + GUARD_S
        while words not in self.screen:
            if time.monotonic() > end or self.process.poll() is not None:
                self.listen(0.2)
                assert words in self.screen, f"never shown: {words}\n{self.screen}"
            self.listen(0.1)
        return self.screen

    def type(self, keys: str) -> None:
        os.write(self.master, keys.encode())

    def signal(self, number: signal.Signals) -> None:
        self.process.send_signal(number)

    def ended(self) -> int:
        """The exit status, once all that it still sends is heard."""
        end = time.monotonic() + GUARD_S
        while self.process.poll() is None and time.monotonic() < end:
            self.listen(0.1)
        self.listen(0.2)
        return self.process.wait(1)

    def hang_up(self) -> None:
        """The terminal is gone, as when a connection breaks."""
        if self.master >= 0:
            os.close(self.master)
            self.master = -1


def _understood(data: bytes) -> bytes:
    """Without the keyboard and mouse modes that pyte takes for something else."""
    for sequence in (b"\x1b[>1u", b"\x1b[<u", b"\x1b[?2026$p", b"\x1b[?2048$p", b"\x1b[>4;1m", b"\x1b[>4;0m"):
        data = data.replace(sequence, b"")
    return data
