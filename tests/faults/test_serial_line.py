"""What happens to serial ports: pulled out, flooded, stolen, silent, stuck; on real pseudo-terminals."""

import asyncio
import contextlib
import os
import random
import shutil
import subprocess
import sys
import threading
from collections.abc import AsyncIterator, Iterator
from pathlib import Path

import pytest

from fermwatch.clock import SystemClock
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ProbeRefused, ProbeUnavailable
from fermwatch_drivers.serial_line import port as serial_line
from fermwatch_drivers.serial_line.driver import DRIVER, SerialLineDriver
from tests.conformance.recording import GUARD_S, RecordingIntake, eventually
from tests.conformance.wires import Board


@pytest.fixture
def board(tmp_path: Path) -> Iterator[Board]:
    made = Board(tmp_path / "board")
    made.plug_in()
    yield made
    made.unplug()


def driver_on(port: object, **more: object) -> SerialLineDriver:
    said = {"port": str(port), "format": "pairs", "settle_s": 0, **more}
    channels = {"pairs": ["t"], "number": ["value"], "json": ["t"], "columns": ["1"]}[str(said["format"])]
    return DRIVER.create("board", DRIVER.options.model_validate(said), channels, SystemClock(), Wires())


@contextlib.asynccontextmanager
async def running(driver: SerialLineDriver, intake: RecordingIntake) -> AsyncIterator["asyncio.Task[None]"]:
    task = asyncio.create_task(driver.run(intake))
    times = len(intake.details) + 1
    try:
        await intake.until_connected(times)
        yield task
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


def descriptors() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


_HOLD = """
import serial, sys
port = serial.Serial(sys.argv[1], exclusive=True)
print("open", flush=True)
sys.stdin.read()
"""


@contextlib.contextmanager
def another_program_on(port: Path) -> Iterator[int]:
    """The process id of a program that holds the port."""
    command = [sys.executable, "-c", _HOLD, str(port)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == b"open\n"
        yield holder.pid
        holder.communicate()


@contextlib.contextmanager
def socat(*addresses: str) -> Iterator[None]:
    program = shutil.which("socat")
    assert program is not None
    with subprocess.Popen([program, *addresses]) as process:
        try:
            yield
        finally:
            process.terminate()


async def test_a_line_cut_off_anywhere_never_becomes_a_number(board: Board) -> None:
    chance, intake = random.Random(19), RecordingIntake()
    said = [round(chance.uniform(10, 30), 3) for _ in range(200)]
    stream = "".join(f"t={value}\r\n" for value in said).encode()
    before = None
    for turn in range(50):
        if turn:
            board.plug_in()
        async with running(driver_on(board.link), intake) as task:
            await board.write(b"\n" + stream[: chance.randint(1, len(stream))])
            await asyncio.sleep(0.002 * chance.random())
            board.unplug()
            with pytest.raises(ProbeUnavailable, match="was lost"):
                await asyncio.wait_for(task, GUARD_S)
        before = before or descriptors()
    assert set(intake.values("t")) <= set(said)
    assert intake.values("t")
    assert before is not None
    assert descriptors() <= before


async def test_the_board_is_found_again_behind_the_same_link(board: Board) -> None:
    intake, driver = RecordingIntake(), driver_on(board.link)
    for turn, value in enumerate((19.5, 20.5)):
        if turn:
            board.plug_in()
        async with running(driver, intake) as task:
            await board.write(f"\nt={value}\n".encode())
            await intake.until_heard("t", value)
            board.unplug()
            await asyncio.gather(task, return_exceptions=True)
    assert intake.values("t") == [19.5, 20.5]


async def test_ten_mebibytes_of_garbage_leave_memory_and_loop_alone(board: Board) -> None:
    intake = RecordingIntake()
    pages = os.sysconf("SC_PAGE_SIZE")
    garbage = random.Random(3).randbytes(1 << 20)
    turns = 0

    async def tick() -> None:
        nonlocal turns
        while True:
            await asyncio.sleep(0)
            turns += 1

    def resident() -> int:
        return int(Path("/proc/self/statm").read_text().split()[1]) * pages

    async with running(driver_on(board.link), intake):
        await board.write(garbage)
        intake.deliveries.clear()
        before, ticking = resident(), asyncio.create_task(tick())
        for _ in range(10):
            await board.write(garbage)
            heard = intake.rejected
            assert heard > 1000
            assert all(len(one.rejections) < 40 for one in intake.deliveries)
            intake.deliveries.clear()
            intake._settled = 0
        ticking.cancel()
        await board.write(b"\nt=19.5\n")
        await intake.until_heard("t", 19.5)
        assert resident() - before < 10 << 20
    assert turns > 10 * len(garbage) // 4096, "others had a turn after each chunk"


async def test_a_hostile_device_stays_text(board: Board) -> None:
    intake = RecordingIntake()
    async with running(driver_on(board.link), intake):
        await board.write(b"\n\x1b]52;c;aGk=\x07=1\n[/b]=2\n\xe2\x80\xaemoc=3\nt=\x1b[31m19\nt=19.5\n")
        await intake.until_heard("t", 19.5)
    names = {reading.channel for reading in intake.readings}
    samples = {rejection.sample for one in intake.deliveries for rejection in one.rejections}
    assert "[/b]" in names
    assert all(text.isprintable() for text in names | samples)


async def test_the_boards_greeting_is_ignored(board: Board) -> None:
    intake = RecordingIntake()
    async with running(driver_on(board.link, settle_s=0.3), intake):
        await board.write(b"boot 2.1\nt=0\n")
        await asyncio.sleep(0.5)
        await board.write(b"t=19.5\n")
        await intake.until_heard("t", 19.5)
    assert intake.values("t") == [19.5]
    assert intake.rejected == 0


async def test_a_silent_port_is_given_up_and_a_speaking_one_is_not(board: Board) -> None:
    intake = RecordingIntake()
    async with running(driver_on(board.link, silence_timeout_s=0.4), intake) as task:
        for value in range(12):
            await board.write(f"\nt={value}\n".encode())
            await asyncio.sleep(0.1)
        assert not task.done()
        with pytest.raises(ProbeUnavailable, match=r"Not a byte .* powered"):
            await asyncio.wait_for(task, GUARD_S)


async def test_a_second_opener_is_told_who_holds_the_port_and_the_first_goes_on(board: Board) -> None:
    with (
        another_program_on(board.link) as holder,
        pytest.raises(ProbeRefused, match=rf"by python.* \(process {holder}\)"),
    ):
        await driver_on(board.link).run(RecordingIntake())
    intake = RecordingIntake()
    async with running(driver_on(board.link), intake) as first:
        with pytest.raises(ProbeRefused, match=r"another source of this watcher .* share it"):
            await driver_on(board.link).run(RecordingIntake())
        await board.write(b"\nt=19.5\n")
        await intake.until_heard("t", 19.5)
        assert not first.done()


async def test_a_port_whose_opening_hangs_blocks_nobody(board: Board, monkeypatch: pytest.MonkeyPatch) -> None:
    release = threading.Event()
    closed: list[bool] = []

    class Stuck:
        def close(self) -> None:
            closed.append(True)

    def hang(_options: object) -> Stuck:
        release.wait(GUARD_S)
        return Stuck()

    intake = RecordingIntake()
    async with running(driver_on(board.link), intake):
        monkeypatch.setattr(serial_line, "open_port", hang)
        monkeypatch.setattr(serial_line, "OPENING_LIMIT_S", 0.3)
        stuck = asyncio.create_task(driver_on("/dev/stuck").run(RecordingIntake()))
        for value in range(1, 20):
            await board.write(f"\nt={value}\n".encode())
            await intake.until_heard("t", value)
        with pytest.raises(ProbeUnavailable, match="did not open within"):
            await asyncio.wait_for(stuck, GUARD_S)
        cancelled = asyncio.create_task(driver_on("/dev/stuck").run(RecordingIntake()))
        await asyncio.sleep(0.05)
        cancelled.cancel()
        await asyncio.gather(cancelled, return_exceptions=True)
        release.set()
        await eventually(lambda: len(closed) == 2)  # what opened too late is closed again


async def test_slow_storing_holds_the_device_back_and_loses_nothing(board: Board) -> None:
    class SlowIntake(RecordingIntake):
        async def deliver(self, delivery: object) -> None:
            await asyncio.sleep(0.005)
            await super().deliver(delivery)  # type: ignore[arg-type]

    intake = SlowIntake()
    async with running(driver_on(board.link), intake):
        await board.write(b"\n" + b"".join(f"t={value}\n".encode() for value in range(5000)))
        await intake.until_heard("t", 4999.0)
    assert intake.values("t") == [float(value) for value in range(5000)]


@pytest.mark.needs_socat
async def test_lines_that_socat_writes_are_heard(tmp_path: Path) -> None:
    ours, theirs, lines = tmp_path / "ours", tmp_path / "theirs", tmp_path / "lines"
    lines.write_text('\n{"t": "66.2 F"}\n')
    intake = RecordingIntake()
    with socat(f"pty,raw,echo=0,link={ours}", f"pty,raw,echo=0,link={theirs}"):
        await eventually(lambda: ours.exists() and theirs.exists())
        async with running(driver_on(ours, format="json"), intake):
            with socat("-u", f"open:{lines}", f"{theirs},raw,echo=0"):
                await intake.until_heard("t", 66.2)
