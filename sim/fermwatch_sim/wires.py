"""Wires from the invented cellar to the real drivers: a board on a pseudo-terminal, a board on a broker.

Each message carries the device's own time and running number, so that simulated time may run at any speed. A wire
waits while nobody takes what it sends; it never blocks the loop and drops nothing.
"""

import asyncio
import json
import math
import os
import tty
from collections.abc import Iterable, Sequence
from contextlib import AbstractAsyncContextManager
from datetime import UTC, datetime
from itertools import count, groupby
from types import TracebackType
from typing import Protocol, Self

import aiomqtt

from fermwatch_sim.cellar import ProbeValue
from fermwatch_sim.scenario import PlacedProbe

TIME_KEY, SEQUENCE_KEY, VALUE_KEY = "at", "seq", "value"
_PATIENCE_S = 10.0  # with a broker that does not acknowledge


class Wire(Protocol):
    async def send(self, samples: Sequence[ProbeValue]) -> None:
        """Send what was said, in order of time; returns once the transport has taken it all."""


def device_time(at: datetime) -> str:
    """As boards write it: ISO 8601 in UTC."""
    return at.astimezone(UTC).isoformat().replace("+00:00", "Z")


class PtyBoard:
    """A board that writes one JSON object per instant, the probes' slugs as keys, to a port that is a pseudo-terminal.

    What lies unread on the line when a reader opens it is usually flushed by the reader, as with a real board.
    """

    def __init__(self) -> None:
        self._board, self._line = os.openpty()
        # The line's end is kept open: its reader may go and come back, and the board never sees a hang-up.
        tty.setraw(self._line)
        os.set_blocking(self._board, False)
        self._sequence = count()

    @property
    def port(self) -> str:
        """The path that a serial driver opens."""
        return os.ttyname(self._line)

    async def send(self, samples: Sequence[ProbeValue]) -> None:
        for at, said in groupby(samples, key=lambda sample: sample.at):
            await self.write(self._line_of(at, said))

    def _line_of(self, at: datetime, said: Iterable[ProbeValue]) -> bytes:
        values = {sample.probe: sample.value for sample in said}
        line = {TIME_KEY: device_time(at), SEQUENCE_KEY: next(self._sequence), **values}
        # After an empty line, since a reader that has just opened drops the first one: it may be the rest of one.
        return b"\n" + json.dumps(line).encode() + b"\n"

    async def write(self, data: bytes) -> None:
        """Write all of it, waiting while the line is full."""
        left = memoryview(data)
        while left:
            try:
                left = left[os.write(self._board, left) :]
            except BlockingIOError:
                await self._writable()

    async def _writable(self) -> None:
        loop = asyncio.get_running_loop()
        ready: asyncio.Future[None] = loop.create_future()
        loop.add_writer(self._board, _settle, ready)
        try:
            await ready
        finally:
            loop.remove_writer(self._board)

    def close(self) -> None:
        """Pull the plug: a reader sees the line hang up."""
        for end in (self._board, self._line):
            os.close(end)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_exception: object) -> None:
        self.close()


def _settle(ready: asyncio.Future[None]) -> None:
    if not ready.done():
        ready.set_result(None)


class AskedDevice:
    """A device that says nothing by itself: what it shows is there for whoever asks."""

    async def send(self, samples: Sequence[ProbeValue]) -> None:
        """Nothing goes out; the device was set with the cellar's last step."""


def topic(probe: PlacedProbe) -> str:
    return f"cellar/{probe.vessel}/{probe.what}"


class BrokerBoard:
    """A board that publishes each sample as a JSON object under `cellar/<fermenter>/<what>` at QoS 1.

    An asynchronous context manager; MqttError where the broker cannot be reached or goes away.
    """

    def __init__(self, host: str, port: int, probes: Iterable[PlacedProbe]) -> None:
        # Its own waiting, by `asyncio.wait_for` of Python 3.11, would lose the word of whoever ends the demo just then.
        self._client: AbstractAsyncContextManager[aiomqtt.Client] = aiomqtt.Client(host, port, timeout=math.inf)
        self._publisher: aiomqtt.Client | None = None
        self._topics = {probe.slug: topic(probe) for probe in probes}
        self._sequence = count()

    async def __aenter__(self) -> Self:
        self._publisher = await self._client.__aenter__()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self._client.__aexit__(kind, error, trace)

    async def send(self, samples: Sequence[ProbeValue]) -> None:
        """Publish; returns once the broker has acknowledged every one."""
        if self._publisher is None:
            raise RuntimeError("the board is not connected: use it as a context manager")
        for sample in samples:
            message = {
                TIME_KEY: device_time(sample.at),
                SEQUENCE_KEY: next(self._sequence),
                VALUE_KEY: sample.value,
            }
            try:
                async with asyncio.timeout(_PATIENCE_S):
                    await self._publisher.publish(self._topics[sample.probe], json.dumps(message), qos=1)
            except TimeoutError:
                raise aiomqtt.MqttError("the broker does not answer") from None
