"""`fermwatch metrics`: the site as numbers in the OpenMetrics format, for whoever keeps and draws them. It only reads,
in a process of its own: whatever asks it, the watcher does not notice.
"""

import argparse
import asyncio
import signal
from concurrent.futures import ThreadPoolExecutor

from fermwatch.commands.context import Context
from fermwatch.commands.looking import Looking
from fermwatch.errors import ConfigError, InputError
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
        reading = _Reading(context)
        context.say(reading.text())
        reading.close()
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
    """The numbers as they were made last, in one thread."""

    def __init__(self, context: Context) -> None:
        self._clock, self._looking = context.clock, Looking(context)
        self._text, self._until_s = "", 0.0

    def text(self) -> str:
        if not self._text or self._clock.monotonic_s() >= self._until_s:
            self._text = ""
            self._text = metrics_text(self._looking.snapshot())
            self._until_s = self._clock.monotonic_s() + KEPT_S
        return self._text

    def close(self) -> None:
        self._looking.close()
