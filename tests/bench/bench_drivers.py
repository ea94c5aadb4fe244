"""How fast the drivers read, each beside what stands for no effort at all, in the same run.

Run: python -m tests.bench.bench_drivers
"""

import asyncio
import os
import resource
import statistics
import tempfile
import threading
import time
import tty
from collections.abc import Callable, Coroutine
from pathlib import Path
from typing import Any

import aiomqtt
import serial
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from fermwatch.clock import SystemClock
from fermwatch.contracts.driver import Delivery
from fermwatch.contracts.wire import Wires
from fermwatch_drivers.mqtt.driver import DRIVER as MQTT
from fermwatch_drivers.mqtt.wire import RECEIVE_MAXIMUM
from fermwatch_drivers.serial_line.driver import DRIVER as SERIAL_LINE
from tests.support.broker import Broker

ROUNDS = 3
LINE = b"beer=19.437 air=18.250 g=1.0478\n"
DRIVER_LINES, READLINE_LINES = 60_000, 3_000
MESSAGES = 6_000


class CountingIntake:
    """Settles at once, and tells when enough readings have come."""

    def __init__(self, enough: int) -> None:
        self._left = enough
        self.done = asyncio.Event()

    def connected(self, detail: str) -> None:
        """Nothing to do."""

    async def deliver(self, delivery: Delivery) -> None:
        self._left -= len(delivery.readings)
        if delivery.settled is not None:
            delivery.settled()
        if self._left <= 0:
            self.done.set()


def cpu_s() -> float:
    usage = resource.getrusage(resource.RUSAGE_THREAD)
    return usage.ru_utime + usage.ru_stime


def _blast(master: int, lines: int, stop: threading.Event) -> None:
    block = LINE * 512
    left = lines * len(LINE)
    while left > 0 and not stop.is_set():
        try:
            left -= os.write(master, block[: min(len(block), left)])
        except BlockingIOError:
            time.sleep(0.0001)


def _on_pty(lines: int, consume: Callable[[str, threading.Thread], tuple[float, float]]) -> tuple[float, float]:
    """Lines a second, and CPU microseconds a line, of a consumer on a pseudo-terminal written to at full speed."""
    master, slave = os.openpty()
    tty.setraw(slave)
    os.set_blocking(master, False)
    stop = threading.Event()
    writer = threading.Thread(target=_blast, args=(master, lines + 1, stop), daemon=True)
    try:
        elapsed, cpu = consume(os.ttyname(slave), writer)
    finally:
        stop.set()
        writer.join()
        os.close(slave)
        os.close(master)
    return lines / elapsed, 1e6 * cpu / lines


def serial_driver(port: str, writer: threading.Thread) -> tuple[float, float]:
    async def read() -> tuple[float, float]:
        intake = CountingIntake(DRIVER_LINES * 3)
        options = SERIAL_LINE.options.model_validate({"port": port, "format": "pairs", "settle_s": 0})
        driver = SERIAL_LINE.create("bench", options, ["beer", "air", "g"], SystemClock(), Wires())
        running = asyncio.create_task(driver.run(intake))
        await asyncio.sleep(0.1)
        began, cpu = time.perf_counter(), cpu_s()
        writer.start()
        await intake.done.wait()
        result = time.perf_counter() - began, cpu_s() - cpu
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
        return result

    return asyncio.run(read())


def readline(port: str, writer: threading.Thread) -> tuple[float, float]:
    with serial.Serial(port, 115200, timeout=5) as opened:
        began, cpu = time.perf_counter(), cpu_s()
        writer.start()
        for _ in range(READLINE_LINES):
            opened.readline()
        return time.perf_counter() - began, cpu_s() - cpu


async def bare_aiomqtt(port: int) -> tuple[float, float]:
    """Counts messages, acknowledged by the library before they are seen."""
    properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
    properties.SessionExpiryInterval, properties.ReceiveMaximum = 3600, RECEIVE_MAXIMUM
    began, cpu, left = time.perf_counter(), cpu_s(), MESSAGES
    async with aiomqtt.Client(
        "127.0.0.1",
        port,
        identifier="bare",
        protocol=aiomqtt.ProtocolVersion.V5,
        clean_start=False,
        properties=properties,
    ) as client:
        await client.subscribe("cellar/+/+", qos=1)
        if port in _subscribed:
            async for _ in client.messages:
                left -= 1
                if left == 0:
                    break
    return time.perf_counter() - began, cpu_s() - cpu


async def mqtt_driver(port: int) -> tuple[float, float]:
    """Parses, delivers, and acknowledges once settled."""
    said = {"host": "127.0.0.1", "port": port, "topic": "cellar/{fermenter}/{what}", "payload": "json"}
    driver = MQTT.create("bench", MQTT.options.model_validate(said), ["left/state#/beer"], SystemClock(), Wires())
    intake = CountingIntake(MESSAGES)
    began, cpu = time.perf_counter(), cpu_s()
    running = asyncio.create_task(driver.run(intake))
    if port in _subscribed:
        await intake.done.wait()
    else:
        await asyncio.sleep(0.5)
    result = time.perf_counter() - began, cpu_s() - cpu
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)
    return result


_subscribed: set[int] = set()  # ports of brokers that hold a session with messages


def _on_broker(consume: Callable[[int], Coroutine[Any, Any, tuple[float, float]]]) -> tuple[float, float]:
    """Messages a second and CPU microseconds a message of a consumer that finds them waiting in its session."""
    with (
        tempfile.TemporaryDirectory() as directory,
        Broker(Path(directory), max_queued_messages=0, log_types="error") as broker,
    ):
        asyncio.run(consume(broker.port))
        broker.publish_lines("cellar/left/state", [f'{{"beer": {index / 1000}}}' for index in range(MESSAGES)])
        _subscribed.add(broker.port)
        elapsed, cpu = asyncio.run(consume(broker.port))
        _subscribed.discard(broker.port)
    return MESSAGES / elapsed, 1e6 * cpu / MESSAGES


def _rounds(*ways: Callable[[], tuple[float, float]]) -> list[list[tuple[float, float]]]:
    """The results of each way, taken in turns."""
    rounds = [[way() for way in ways] for _ in range(ROUNDS)]
    return [list(results) for results in zip(*rounds, strict=True)]


def _row(name: str, unit: str, results: list[tuple[float, float]]) -> str:
    speed, cpu = (statistics.median(column) for column in zip(*results, strict=True))
    return f"{name:<58}{speed:>10,.0f} {unit}/s {cpu:>8.1f} us CPU"


def _ratio(ours: list[tuple[float, float]], baseline: list[tuple[float, float]]) -> str:
    """Within a round, then the median."""
    speed = statistics.median(one[0] / other[0] for one, other in zip(ours, baseline, strict=True))
    return f"{'  ratio':<58}{speed:>10.2f}"


def report() -> str:
    """Both comparisons, as a table in plain text."""
    ours, theirs = _rounds(lambda: _on_pty(DRIVER_LINES, serial_driver), lambda: _on_pty(READLINE_LINES, readline))
    driven, bare = _rounds(lambda: _on_broker(mqtt_driver), lambda: _on_broker(bare_aiomqtt))
    return "\n".join(
        [
            _row("serial driver, three values a line, parsed and delivered", "lines", ours),
            _row("pyserial readline() alone", "lines", theirs),
            _ratio(ours, theirs),
            _row("MQTT driver, JSON, delivered, acknowledged when settled", "msgs", driven),
            _row("aiomqtt alone, QoS 1, acknowledged by itself", "msgs", bare),
            _ratio(driven, bare),
        ]
    )


if __name__ == "__main__":
    print(report())  # noqa: T201 - a report for people
