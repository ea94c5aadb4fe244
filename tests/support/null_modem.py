"""Two serial ports with a cable between them, as pseudo-terminals: what goes in at one end comes out at the other."""

import asyncio
import contextlib
import os
import tty
from pathlib import Path


class NullModem:
    """Lives on the running loop. here: the port to unplug and plug in again, behind a link. there: the other one."""

    def __init__(self, here: Path) -> None:
        self.here = here
        self._here: int | None = None
        self._there, self._far = os.openpty()
        os.set_blocking(self._there, False)  # else a port that hangs up just before it is read stops the loop
        tty.setraw(self._far)  # kept open: the far end never sees a hang-up
        self._loop = asyncio.get_running_loop()
        self._loop.add_reader(self._there, self._carry, self._there)

    @property
    def there(self) -> str:
        return os.ttyname(self._far)

    def plug_in(self) -> None:
        self._here, near = os.openpty()
        os.set_blocking(self._here, False)
        tty.setraw(near)
        self.here.unlink(missing_ok=True)
        self.here.symlink_to(os.ttyname(near))
        os.close(near)
        self._loop.add_reader(self._here, self._carry, self._here)

    def unplug(self) -> None:
        """As with a real port, its link goes first: its number may be another terminal's in no time."""
        self.here.unlink(missing_ok=True)
        if self._here is not None:
            self._loop.remove_reader(self._here)
            os.close(self._here)
            self._here = None

    def close(self) -> None:
        self.unplug()
        self._loop.remove_reader(self._there)
        os.close(self._there)
        os.close(self._far)

    def _carry(self, end: int) -> None:
        other = self._there if end == self._here else self._here
        try:
            data = os.read(end, 4096)
        except BlockingIOError:
            return
        except OSError:  # nobody has that port open at the moment
            self._loop.remove_reader(end)
            self._loop.call_later(0.01, self._listen_again, end)
            return
        if other is not None:
            with contextlib.suppress(BlockingIOError):
                os.write(other, data)

    def _listen_again(self, end: int) -> None:
        if end in {self._here, self._there}:
            self._loop.add_reader(end, self._carry, end)
