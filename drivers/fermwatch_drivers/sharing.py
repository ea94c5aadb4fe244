"""One connection, opened once however many use it, and open only while somebody does."""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable, Coroutine
from typing import Any, Generic, Protocol, TypeVar


class Connection(Protocol):
    """What is open."""

    def ended(self, error: BaseException) -> None:
        """Called once it has ended by itself and is closed: whoever uses it is to be told why."""


ConnectionT = TypeVar("ConnectionT", bound=Connection)
Run = Callable[[Callable[[ConnectionT], None]], Coroutine[Any, Any, None]]


class Shared(Generic[ConnectionT]):
    """Runs the connection in a task of its own, from its first user's coming to its last one's leaving.

    run: opens, hands what it opened to its argument, and goes on until that ends, which is always an error; cancelled
    when the last user leaves. It closes what it opened in either case. A user who comes after an end opens anew, so
    that whoever supervises the users supervises the wire.
    """

    def __init__(self, name: str, run: Run[ConnectionT]) -> None:
        self._name, self._run = name, run
        self._life: _Life[ConnectionT] | None = None

    @contextlib.asynccontextmanager
    async def used(self) -> AsyncIterator[ConnectionT]:
        """The open connection. Raises what opening it raises, to each who waits for it."""
        life = await self._join()
        try:
            yield await life.connection()
        finally:
            await life.leave()

    async def _join(self) -> "_Life[ConnectionT]":
        while self._life is not None and self._life.is_closing:
            await asyncio.wait({self._life.task})
        if self._life is None or self._life.task.done():
            self._life = _Life(self._name, self._run)
        self._life.users += 1
        return self._life


class _Life(Generic[ConnectionT]):
    """From one opening to its end."""

    def __init__(self, name: str, run: Run[ConnectionT]) -> None:
        self.users = 0
        self._opened: asyncio.Future[ConnectionT] = asyncio.get_running_loop().create_future()
        self.task = asyncio.create_task(run(self._opened.set_result), name=name)
        self.task.add_done_callback(self._tell)

    @property
    def is_closing(self) -> bool:
        return self.users == 0 and not self.task.done()

    async def connection(self) -> ConnectionT:
        waited: set[asyncio.Future[Any]] = {self.task, self._opened}
        await asyncio.wait(waited, return_when=asyncio.FIRST_COMPLETED)
        if not self._opened.done():
            self.task.result()  # raises why it was not opened
        return self._opened.result()

    async def leave(self) -> None:
        self.users -= 1
        if self.is_closing:
            self.task.cancel()
            await asyncio.wait({self.task})

    def _tell(self, task: "asyncio.Task[None]") -> None:
        if task.cancelled():
            return
        error = task.exception()
        if self._opened.done():
            self._opened.result().ended(error or RuntimeError("the connection ended without a reason"))
