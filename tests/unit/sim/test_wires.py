"""The wires: what is sent arrives whole and in order, and nobody is ever blocked."""

import asyncio
import errno
import itertools
import json
import os
from collections.abc import AsyncIterator, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import aiomqtt
import pytest
import serial

from fermwatch.model.quantity import Unit
from fermwatch_sim.broker import Address, find_mosquitto, private_broker
from fermwatch_sim.cellar import ProbeValue
from fermwatch_sim.scenario import load
from fermwatch_sim.wires import BrokerBoard, PtyBoard, device_time, topic

GUARD_S = 30.0
START = datetime(2026, 3, 14, 18, tzinfo=UTC)


def sample(probe: str, value: float, minute: int = 0) -> ProbeValue:
    return ProbeValue(START + timedelta(minutes=minute), probe, value, Unit.CELSIUS)


@pytest.fixture
def board() -> Iterator[PtyBoard]:
    with PtyBoard() as board:
        yield board


def read_lines(port: serial.Serial, count: int) -> list[dict[str, object]]:
    """The next lines that are not empty."""
    lines = (line for line in iter(port.readline, b"") if line.strip())
    return [json.loads(line) for line in itertools.islice(lines, count)]


async def test_a_serial_reader_gets_one_object_per_instant(board: PtyBoard) -> None:
    with serial.Serial(board.port, timeout=GUARD_S) as port:
        await board.send([sample("left-beer", 19.4), sample("left-gravity", 26.1), sample("left-beer", 19.5, minute=1)])
        assert await asyncio.to_thread(read_lines, port, 2) == [
            {"at": "2026-03-14T18:00:00Z", "seq": 0, "left-beer": 19.4, "left-gravity": 26.1},
            {"at": "2026-03-14T18:01:00Z", "seq": 1, "left-beer": 19.5},
        ]


async def test_a_full_line_makes_the_sender_wait_and_the_loop_go_on(board: PtyBoard) -> None:
    with serial.Serial(board.port, timeout=GUARD_S) as port:
        sending = asyncio.create_task(board.send([sample("left-beer", 19.0, minute) for minute in range(5000)]))
        for _ in range(50):
            await asyncio.sleep(0.001)
        assert not sending.done(), "5,000 lines are more than any line holds"
        lines = await asyncio.to_thread(read_lines, port, 5000)
        async with asyncio.timeout(GUARD_S):
            await sending
    assert [line["seq"] for line in lines] == list(range(5000))


async def test_a_sender_that_waits_can_be_cancelled_and_the_line_used_again(board: PtyBoard) -> None:
    sending = asyncio.create_task(board.write(b"x" * 1_000_000))
    await asyncio.sleep(0.05)
    sending.cancel()
    with pytest.raises(asyncio.CancelledError):
        await sending
    with serial.Serial(board.port, timeout=GUARD_S) as port:
        port.reset_input_buffer()
        await board.send([sample("left-beer", 20.0)])
        assert b'"left-beer": 20.0}\n' in await asyncio.to_thread(port.read_until, b"}\n")


async def test_a_reader_may_go_and_come_back(board: PtyBoard) -> None:
    for visit in range(5):
        with serial.Serial(board.port, timeout=GUARD_S, exclusive=True) as port:
            await board.send([sample("left-beer", 19.0 + visit)])
            assert (await asyncio.to_thread(read_lines, port, 1))[0]["left-beer"] == 19.0 + visit


async def test_a_reader_that_drops_its_first_line_loses_nothing(board: PtyBoard) -> None:
    """As a careful reader does: what it hears first may be the rest of a line."""
    with serial.Serial(board.port, timeout=GUARD_S) as port:
        await board.send([sample("left-beer", 19.4)])
        await asyncio.to_thread(port.readline)
        assert (await asyncio.to_thread(read_lines, port, 1))[0]["seq"] == 0


async def test_bytes_pass_as_they_are(board: PtyBoard) -> None:
    """Raw mode: neither line ends nor control characters are touched."""
    every_byte = bytes(range(256)) + b"\r\n"
    with serial.Serial(board.port, timeout=GUARD_S) as port:
        await board.write(every_byte)
        assert await asyncio.to_thread(port.read, len(every_byte)) == every_byte


def hung_up(reader: int) -> bool:
    """A hang-up is the end of the file, or an input/output error."""
    try:
        return os.read(reader, 1) == b""
    except OSError as error:
        return error.errno == errno.EIO


def test_pulling_the_plug_hangs_the_reader_up_and_leaks_nothing() -> None:
    before = len(list(Path("/proc/self/fd").iterdir()))
    for _ in range(20):
        board = PtyBoard()
        reader = os.open(board.port, os.O_RDONLY | os.O_NOCTTY)
        board.close()
        assert hung_up(reader)
        os.close(reader)
    assert len(list(Path("/proc/self/fd").iterdir())) <= before  # what other tests left may go meanwhile


def test_device_time_is_iso_8601_in_utc() -> None:
    assert device_time(START) == "2026-03-14T18:00:00Z"
    assert datetime.fromisoformat(device_time(START)) == START


needs_broker = [
    pytest.mark.needs_broker,
    pytest.mark.skipif(find_mosquitto() is None, reason="needs mosquitto: apt-get install mosquitto"),
]


def listening_on(port: int) -> set[str]:
    """The addresses at which somebody listens on a TCP port, as proc(5) writes them."""
    rows = [row.split() for row in Path("/proc/net/tcp").read_text(encoding="ascii").splitlines()[1:]]
    return {row[1].split(":")[0] for row in rows if row[1].endswith(f":{port:04X}") and row[3] == "0A"}


def entries_of(folder: Path) -> int:
    return len(list(folder.iterdir()))


@pytest.fixture
async def broker() -> AsyncIterator[Address]:
    async with private_broker() as address:
        assert address is not None
        yield address


class TestWithBroker:
    pytestmark = needs_broker

    async def test_a_subscriber_gets_every_sample_under_its_topic(self, broker: Address) -> None:
        probes = load("demo").probes
        samples = [sample(probe.slug, float(number)) for number, probe in enumerate(probes)]
        async with (
            asyncio.timeout(GUARD_S),
            aiomqtt.Client(broker.host, broker.port) as subscriber,
            BrokerBoard(broker.host, broker.port, probes) as board,
        ):
            await subscriber.subscribe("cellar/+/+", qos=1)
            await board.send(samples)
            heard = {}
            async for message in subscriber.messages:
                assert message.qos == 1
                assert not message.retain
                assert isinstance(message.payload, bytes)
                heard[str(message.topic)] = json.loads(message.payload)
                if len(heard) == len(samples):
                    break
        assert heard == {
            topic(probe): {"at": "2026-03-14T18:00:00Z", "seq": number, "value": float(number)}
            for number, probe in enumerate(probes)
        }
        assert "cellar/right/beer" in heard

    async def test_the_broker_listens_on_the_loopback_interface_only(self, broker: Address) -> None:
        assert broker.host == "127.0.0.1"
        assert listening_on(broker.port) == {"0100007F"}, "127.0.0.1, the bytes reversed"

    async def test_the_broker_is_gone_afterwards_with_its_folder(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
        async with private_broker() as address:
            assert address is not None
            assert entries_of(tmp_path) == 0, "once it listens it needs none: a demo that is killed leaves none"
        assert entries_of(tmp_path) == 0
        with pytest.raises(ConnectionRefusedError):
            await asyncio.open_connection(address.host, address.port)


async def test_without_mosquitto_there_is_no_broker_and_no_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fermwatch_sim.broker.shutil.which", lambda *_args, **_kwargs: None)
    async with private_broker() as address:
        assert address is None


async def test_a_broker_that_dies_at_once_is_told_with_a_remedy(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    from fermwatch.errors import FermwatchError

    broken = tmp_path / "mosquitto"
    broken.write_text("#!/bin/sh\nexit 1\n", encoding="utf-8")
    broken.chmod(0o755)
    monkeypatch.setattr("fermwatch_sim.broker.find_mosquitto", lambda: str(broken))
    with pytest.raises(FermwatchError, match="does not start"):
        async with private_broker():
            pass


async def test_a_board_that_is_not_connected_says_so() -> None:
    board = BrokerBoard("127.0.0.1", 1, [])
    with pytest.raises(RuntimeError, match="not connected"):
        await board.send([sample("left-beer", 19.0)])
