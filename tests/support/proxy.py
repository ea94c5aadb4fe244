"""A bad line: a proxy that cuts connections anywhere, also in the middle of a packet."""

import asyncio
import random
import threading
from collections.abc import Iterator
from contextlib import contextmanager


class Proxy:
    """Between driver and broker: cuts every connection after a random number of bytes."""

    def __init__(self, to_port: int, chance: random.Random, most_bytes: int = 12_000) -> None:
        self._to_port, self._chance, self._most_bytes = to_port, chance, most_bytes
        self.cuts = 0
        self.cutting = True

    async def __aenter__(self) -> int:
        self._server = await asyncio.start_server(self._serve, "127.0.0.1", 0)
        port: int = self._server.sockets[0].getsockname()[1]
        return port

    async def __aexit__(self, *_: object) -> None:
        self._server.close()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        there, back = await asyncio.open_connection("127.0.0.1", self._to_port)
        left = self._chance.randint(400, self._most_bytes)

        async def copy(source: asyncio.StreamReader, target: asyncio.StreamWriter) -> None:
            nonlocal left
            while data := await source.read(self._chance.randint(1, 800)):
                left -= len(data)
                if left < 0 and self.cutting:
                    self.cuts += 1
                    return
                target.write(data)

        ways = [asyncio.create_task(copy(reader, back)), asyncio.create_task(copy(there, writer))]
        await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
        for way in ways:
            way.cancel()
        await asyncio.gather(*ways, return_exceptions=True)
        for end in (writer, back):
            if self._chance.random() < 0.5:
                end.transport.abort()  # what was on its way is lost
            else:
                end.close()


@contextmanager
def running_proxy(proxy: Proxy) -> Iterator[int]:
    """The proxy in a thread of its own, for tests of other processes; its port."""
    loop = asyncio.new_event_loop()
    thread = threading.Thread(target=loop.run_forever, name="proxy")
    thread.start()
    port = asyncio.run_coroutine_threadsafe(proxy.__aenter__(), loop).result(20)
    try:
        yield port
    finally:
        asyncio.run_coroutine_threadsafe(_end(proxy), loop).result(20)
        loop.call_soon_threadsafe(loop.stop)
        thread.join(20)
        loop.close()


async def _end(proxy: Proxy) -> None:
    await proxy.__aexit__()
    others = [task for task in asyncio.all_tasks() if task is not asyncio.current_task()]
    for task in others:
        task.cancel()
    await asyncio.gather(*others, return_exceptions=True)
