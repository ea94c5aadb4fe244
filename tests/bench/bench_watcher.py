"""What a watcher costs: memory, and CPU at 20 readings a second by MQTT.

The baseline in the same run is what a hobbyist would write: a bare subscriber that commits each message into one table.
"""

import asyncio
import json
import os
import sqlite3
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import aiomqtt

from tests.support.broker import Broker
from tests.support.running import Site, probe, until, vessel
from tests.support.stores import open_reader

RATE_PER_S = 20
SECONDS = 15
TICKS_PER_S = os.sysconf("SC_CLK_TCK")

BARE = """
import asyncio, json, sqlite3, sys, aiomqtt
async def main():
    db = sqlite3.connect(sys.argv[2], isolation_level=None)
    db.execute("PRAGMA journal_mode=WAL"); db.execute("PRAGMA synchronous=FULL")
    db.execute("CREATE TABLE r (topic TEXT, at REAL, value REAL)")
    async with aiomqtt.Client("127.0.0.1", int(sys.argv[1])) as client:
        await client.subscribe("cellar/#", qos=1)
        print("ready", flush=True)
        async for message in client.messages:
            row = (str(message.topic), json.loads(message.payload)["v"])
            db.execute("INSERT INTO r VALUES (?, julianday(), ?)", row)
asyncio.run(main())
"""


def cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(") ", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / TICKS_PER_S


def resident_mb(pid: int) -> float:
    line = next(one for one in Path(f"/proc/{pid}/status").read_text().splitlines() if one.startswith("VmRSS"))
    return int(line.split()[1]) / 1024


async def publish(port: int) -> None:
    async with aiomqtt.Client("127.0.0.1", port) as client:
        for number in range(RATE_PER_S * SECONDS):
            message = json.dumps({"n": number, "v": 19.0 + number % 10 / 100})
            await client.publish("cellar/left/beer", message, qos=1)
            await asyncio.sleep(1 / RATE_PER_S)


def measured(pid: int, port: int) -> float:
    """CPU, % of one core, while messages come."""
    before, began = cpu_s(pid), time.monotonic()
    asyncio.run(publish(port))
    return 100 * (cpu_s(pid) - before) / (time.monotonic() - began)


def bare(broker: Broker, folder: Path) -> tuple[float, float]:
    command = [sys.executable, "-c", BARE, str(broker.port), str(folder / "bare.db")]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.readline()
        percent, memory = measured(process.pid, broker.port), resident_mb(process.pid)
        process.kill()
    with sqlite3.connect(folder / "bare.db") as connection:
        (rows,) = connection.execute("SELECT count(*) FROM r").fetchone()
    assert rows == RATE_PER_S * SECONDS
    return percent, memory


def watched(broker: Broker, folder: Path) -> tuple[float, float]:
    site = Site(folder / "site")
    source = (
        f'[[source]]\nname = "broker"\ndriver = "mqtt"\nhost = "127.0.0.1"\nport = {broker.port}\n'
        'topic = "cellar/{vessel}/{what}"\npayload = "json"\nsequence_pointer = "/n"'
    )
    site.configure(source, vessel(), probe("left-beer", "broker", "left/beer#/v", "every_s = 1"))
    with site.watched() as watcher:
        watcher.says("connected")
        site.open_batch("left")
        percent, memory = measured(watcher.process.pid, broker.port), resident_mb(watcher.process.pid)
        with open_reader(site.store, "home") as reader:
            number = reader.series()[0].series
            now = datetime.now(UTC)

            def rows() -> list[float]:
                stored = reader.readings(number, now - timedelta(hours=1), now + timedelta(hours=1))
                return [float(one.value) for one in stored]

            until(lambda: len(rows()) == RATE_PER_S * SECONDS, "every message is stored")
        return percent, memory


def report() -> str:
    """CPU and memory of both, in one run."""
    with tempfile.TemporaryDirectory() as name, Broker(Path(name) / "broker") as broker:
        folder = Path(name)
        theirs, their_memory = bare(broker, folder)
        ours, our_memory = watched(broker, folder)
    return "\n".join(
        (
            f"{RATE_PER_S} readings a second by MQTT at QoS 1, each committed (synchronous FULL), {SECONDS} s",
            f"  the watcher          {ours:5.1f} % of a core   {our_memory:5.1f} MB resident",
            f"  a bare subscriber    {theirs:5.1f} % of a core   {their_memory:5.1f} MB resident",
            f"  ratio                {ours / theirs:5.1f}               {our_memory / their_memory:5.1f}",
        )
    )


if __name__ == "__main__":
    sys.stdout.write(report() + "\n")
