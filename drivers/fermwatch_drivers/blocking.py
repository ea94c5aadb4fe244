"""A call that may hang for ever, kept off the event loop and out of the way of a clean stop.

`asyncio.to_thread` will not do: its threads are waited for when the program ends, and a port whose `open` hangs
would hold up every stop.
"""

import asyncio
import contextlib
import threading
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")


async def in_thread(call: Callable[[], T], *, name: str, limit_s: float, discard: Callable[[T], object]) -> T:
    """Run `call` in a daemon thread of that name and return what it returns, or raise what it raises.

    Raises TimeoutError after `limit_s`. A result that comes when nobody waits any more goes to `discard`.
    """
    loop = asyncio.get_running_loop()
    future: asyncio.Future[T] = loop.create_future()
    lock = threading.Lock()
    abandoned = False

    def finish(result: T | None, error: BaseException | None) -> None:
        if future.done():  # cancelled between the thread's end and now
            if error is None:
                discard(result)  # type: ignore[arg-type]
        elif error is not None:
            future.set_exception(error)
        else:
            future.set_result(result)  # type: ignore[arg-type]

    def work() -> None:
        result: T | None = None
        error: BaseException | None = None
        try:
            result = call()
        except BaseException as caught:  # noqa: BLE001 - handed over whole to whoever waits
            error = caught
        with lock:
            if not abandoned:
                with contextlib.suppress(RuntimeError):  # the loop is closed: nobody waits any more
                    loop.call_soon_threadsafe(finish, result, error)
                    return
        if error is None:
            discard(result)  # type: ignore[arg-type]

    threading.Thread(target=work, name=name, daemon=True).start()
    try:
        async with asyncio.timeout(limit_s):
            return await future
    except (asyncio.CancelledError, TimeoutError):
        with lock:
            abandoned = True
        if future.done() and not future.cancelled() and future.exception() is None:
            discard(future.result())  # it came in the very turn in which the waiter was cancelled
        raise
