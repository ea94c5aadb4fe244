"""The far ends of drivers' wires: what a board or a publisher does, for tests to do it by hand."""

import asyncio
import contextlib
import os
import tty
from pathlib import Path


class Board:
    """A board on a pseudo-terminal, behind a link that stays the same however often it is plugged in."""

    def __init__(self, link: Path) -> None:
        self.link = link
        self._master: int | None = None

    def plug_in(self) -> None:
        master, slave = os.openpty()
        tty.setraw(slave)
        os.set_blocking(master, False)
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(os.ttyname(slave))
        os.close(slave)
        self._master = master

    def unplug(self) -> None:
        """As with a real port, its link goes first: its number may be another terminal's in no time."""
        self.link.unlink(missing_ok=True)
        if self._master is not None:
            os.close(self._master)
            self._master = None

    @property
    def is_plugged_in(self) -> bool:
        return self._master is not None

    @property
    def end(self) -> int:
        """The board's end of the line, while it is plugged in."""
        assert self._master is not None
        return self._master

    async def write(self, data: bytes) -> None:
        """All of it, at whatever pace it is read."""
        assert self._master is not None
        at = 0
        while at < len(data):
            with contextlib.suppress(BlockingIOError):
                at += os.write(self._master, data[at : at + 65536])
                continue
            await asyncio.sleep(0.0005)
