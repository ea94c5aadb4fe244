"""Ports and screens: pseudo-terminals that stand for a board's port, and a real terminal to look at a screen in."""

import contextlib
import os
import subprocess
import tty
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self


@dataclass
class Board:
    """A board on a serial port: `link` is the port's path while it is plugged in."""

    link: Path
    _own: int = -1
    _port: int = -1

    def plug_in(self) -> None:
        self._own, self._port = os.openpty()
        tty.setraw(self._port)
        os.set_blocking(self._own, False)
        self.link.symlink_to(os.ttyname(self._port))

    def write(self, data: bytes) -> int:
        """As much of it as the port takes now; the number of bytes."""
        with contextlib.suppress(BlockingIOError):
            return os.write(self._own, data)
        return 0

    def say(self, *lines: str) -> None:
        self.write("".join(f"{line}\n" for line in lines).encode())

    def unplug(self) -> None:
        """Whoever has the port open finds it gone."""
        self.link.unlink(missing_ok=True)
        for descriptor in (self._port, self._own):
            with contextlib.suppress(OSError):
                os.close(descriptor)

    def __enter__(self) -> Self:
        self.plug_in()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.unplug()


@dataclass
class Terminal:
    """A tmux of one's own, with one program in one window."""

    socket: str
    columns: int = 110
    rows: int = 36

    def open(self, command: Sequence[str], environment: Mapping[str, str]) -> None:
        size = ("-x", str(self.columns), "-y", str(self.rows))
        told = [word for name, value in environment.items() for word in ("-e", f"{name}={value}")]
        self._tmux("-f", "/dev/null", "new-session", "-d", *size, *told, *command)

    def screen(self) -> str:
        return self._tmux("capture-pane", "-p")

    def press(self, *keys: str) -> None:
        self._tmux("send-keys", *keys)

    def pane_process(self) -> int:
        return int(self._tmux("list-panes", "-F", "#{pane_pid}").split()[0])

    def close(self) -> None:
        """Gone with all that ran in it, as a lost connection leaves it."""
        subprocess.run(["tmux", "-L", self.socket, "kill-server"], check=False, capture_output=True, timeout=20)

    def _tmux(self, *words: str) -> str:
        done = subprocess.run(
            ["tmux", "-L", self.socket, *words], check=True, capture_output=True, text=True, timeout=20
        )
        return done.stdout

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
