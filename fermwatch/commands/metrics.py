"""`fermwatch metrics`: the site as numbers in the OpenMetrics format, for whoever keeps and draws them. It only reads,
in a process of its own: whatever asks it, the watcher does not notice.
"""

import argparse
import asyncio
import signal
from concurrent.futures import ThreadPoolExecutor

from fermwatch.commands.context import Context
from fermwatch.contracts.feed import Feed
from fermwatch.errors import ConfigError, InputError, StoreError
from fermwatch.feed import open_feed
from fermwatch.publish.metrics import CONTENT_TYPE, metrics_text
from fermwatch.publish.metrics_server import LOOPBACK, MetricsServer

KEPT_S = 1.0  # how long an answer serves whoever asks again
LOWEST_PORT, HIGHEST_PORT = 1024, 65535


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.epilog = f"It listens on {LOOPBACK} alone: who is elsewhere asks through a server that knows who he is."
    parser.add_argument("--port", type=int, metavar="NUMBER", help="where to listen (else [metrics] port says)")
    parser.add_argument("--once", action="store_true", help="print them once, and be done")


def run(options: argparse.Namespace, context: Context) -> int:
    if options.once:
        feed = open_feed(context.open_store())
        try:
            context.say(metrics_text(feed.snapshot(context.clock.now())))
        finally:
            feed.close()
        return 0
    asyncio.run(_serve(_port(options.port, context), context))
    return 0


def _port(said: int | None, context: Context) -> int:
    if said is not None:
        if not LOWEST_PORT <= said <= HIGHEST_PORT:
            raise InputError(f"--port: {said} is not from {LOWEST_PORT} to {HIGHEST_PORT}.")
        return said
    from fermwatch.commands.watch import load_configuration  # checks all of it: only where it must

    port = load_configuration(context).config.metrics.port if context.place.config is not None else None
    if port is None:
        raise ConfigError(
            "no port is said to listen on.", key="metrics", hint="Add [metrics] port = 9464, or --port 9464."
        )
    return port


async def _serve(port: int, context: Context) -> None:
    """Until SIGTERM or SIGINT."""
    stopped = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(number, stopped.set)
    with ThreadPoolExecutor(1, thread_name_prefix="metrics") as thread:
        reading = _Reading(context)
        loop = asyncio.get_running_loop()
        server = MetricsServer(port, lambda: asyncio.wrap_future(thread.submit(reading.text), loop=loop), CONTENT_TYPE)
        listening = await server.start()
        context.say(f"Metrics of {context.place.site}: http://{LOOPBACK}:{listening}/metrics")
        try:
            await stopped.wait()
        finally:
            await server.stop()
            thread.submit(reading.close)


class _Reading:
    """The store as it was last read, in one thread; opened anew where it was away."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._feed: Feed | None = None
        self._text, self._until_s = "", 0.0

    def text(self) -> str:
        clock = self._context.clock
        if self._text and clock.monotonic_s() < self._until_s:
            return self._text
        try:
            self._text = self._read()
        except StoreError:  # another file may lie in its place, as after a restore
            self._text = self._read()
        self._until_s = clock.monotonic_s() + KEPT_S
        return self._text

    def _read(self) -> str:
        try:
            if self._feed is None:
                self._feed = open_feed(self._context.open_store())
            self._feed.changed()  # StoreGone where it is not the one that was opened
            return metrics_text(self._feed.snapshot(self._context.clock.now()))
        except StoreError:
            self.close()
            raise

    def close(self) -> None:
        self._text = ""
        if self._feed is not None:
            self._feed.close()
            self._feed = None
