"""Bytes from a descriptor: at little cost while little comes, and held back while too much does."""

import asyncio
import os


class ByteStream:
    """Reads a non-blocking descriptor within the running event loop; `close` it before the descriptor.

    The descriptor stays registered between reads, and one timer watches for silence, since a board that says
    something every second or so is the usual case. At most one chunk waits while nobody asks for it.
    """

    def __init__(self, descriptor: int, chunk: int, silence_limit_s: float | None) -> None:
        self._descriptor, self._chunk, self._limit_s = descriptor, chunk, silence_limit_s
        self._loop = asyncio.get_running_loop()
        self._asking: asyncio.Future[bytes] | None = None
        self._waiting: bytes | OSError | None = None
        self._heard_s = self._loop.time()
        self._timer: asyncio.TimerHandle | None = None
        self._loop.add_reader(descriptor, self._on_readable)
        self._watch()

    async def read(self) -> bytes:
        """The next bytes; none at the end of the stream. Raises OSError, TimeoutError after too long a silence."""
        if self._waiting is not None:
            said, self._waiting = self._waiting, None
            self._loop.add_reader(self._descriptor, self._on_readable)
            await asyncio.sleep(0)  # a device at full speed must not keep the loop from the others
            if isinstance(said, OSError):
                raise said
            return said
        asking: asyncio.Future[bytes] = self._loop.create_future()
        self._asking = asking
        try:
            return await asking
        finally:
            self._asking = None
            if asking.done() and not asking.cancelled():
                asking.exception()  # known, also where we are cancelled in the very turn in which it failed

    def close(self) -> None:
        self._loop.remove_reader(self._descriptor)
        if self._timer is not None:
            self._timer.cancel()

    def _on_readable(self) -> None:
        said: bytes | OSError
        try:
            said = os.read(self._descriptor, self._chunk)
        except BlockingIOError:
            return
        except OSError as error:
            said = error
        self._heard_s = self._loop.time()
        if self._asking is None or self._asking.done():
            self._waiting = said
            self._loop.remove_reader(self._descriptor)
        elif isinstance(said, OSError):
            self._asking.set_exception(said)
        else:
            self._asking.set_result(said)

    def _watch(self) -> None:
        if self._limit_s is None:
            return
        silent_s = self._loop.time() - self._heard_s
        if silent_s >= self._limit_s and self._asking is not None and not self._asking.done():
            self._asking.set_exception(TimeoutError())
            return
        self._timer = self._loop.call_later(max(self._limit_s - silent_s, 0.05), self._watch)
