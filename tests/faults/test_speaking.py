"""The other way on a wire that others listen on: a question to a board that prints readings, a message to a broker."""

import asyncio
import os
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from fermwatch.clock import SystemClock
from fermwatch.contracts.wire import Asking, Publishing, Wires
from fermwatch.errors import ProbeRefused, ProbeUnavailable
from fermwatch_drivers.mqtt.driver import DRIVER as MQTT
from fermwatch_drivers.mqtt.login import V311
from fermwatch_drivers.mqtt.wire import mqtt_wire
from fermwatch_drivers.serial_line.driver import DRIVER as SERIAL_LINE
from fermwatch_drivers.serial_line.wire import serial_wire
from tests.conformance.recording import GUARD_S, RecordingIntake
from tests.conformance.wires import Board
from tests.support.broker import Broker


class Controller(Board):
    """A board that prints its temperature and answers `set VALUE` with `ok VALUE`, in a thread of its own."""

    def answer(self, questions: int) -> None:
        assert self._master is not None
        os.set_blocking(self._master, True)
        heard = b""
        for _ in range(questions):
            while b"\n" not in heard:
                heard += os.read(self._master, 64)
            question, _, heard = heard.partition(b"\n")
            os.write(self._master, b"t=19.5\nok " + question.removeprefix(b"set ") + b"\nt=20.5\n")


@pytest.fixture
def board(tmp_path: Path) -> Iterator[Controller]:
    made = Controller(tmp_path / "board")
    made.plug_in()
    yield made
    made.unplug()


async def test_a_board_that_prints_readings_is_asked_and_its_answer_is_no_reading(board: Controller) -> None:
    options, wires, clock = (
        SERIAL_LINE.options(port=str(board.link), format="pairs", settle_s=0),
        Wires(),
        SystemClock(),
    )
    intake = RecordingIntake()
    listening = asyncio.create_task(SERIAL_LINE.create("board", options, ["t"], clock, wires).run(intake))
    await intake.until_connected()
    await board.write(b"\n")
    answering = threading.Thread(target=board.answer, args=(3,))
    answering.start()
    async with serial_wire("controller", options, clock, wires).used() as line:
        speaker: Asking = line

        async def set_to(value: int) -> bytes:
            return await speaker.ask(b"set %d" % value, lambda said: said.startswith(b"ok "), limit_s=GUARD_S)

        assert await asyncio.gather(*(set_to(value) for value in (18, 19, 20))) == [b"ok 18", b"ok 19", b"ok 20"]
        answering.join()
        with pytest.raises(ProbeUnavailable, match=r"No answer from .* within 0\.1 s"):
            await speaker.ask(b"set 21", lambda said: said.startswith(b"ok "), limit_s=0.1)
        await intake.until(lambda one: len(one.readings) == 6)
        asking = asyncio.create_task(speaker.ask(b"set 22", lambda said: said == b"never", limit_s=GUARD_S))
        await asyncio.sleep(0.01)
        board.unplug()
        with pytest.raises(ProbeUnavailable, match="was lost"):
            await asking
    assert intake.values("t") == [19.5, 20.5] * 3
    assert intake.rejected == 0
    assert "was lost" in str((await asyncio.gather(listening, return_exceptions=True))[0])


@pytest.mark.needs_broker
async def test_what_is_published_goes_out_on_the_connection_that_listens(tmp_path: Path) -> None:
    with Broker(tmp_path / "broker") as broker:
        before = _sockets()
        said = {"host": "127.0.0.1", "port": broker.port, "topic": "cellar/{fermenter}/{what}"}
        options, wires, clock = MQTT.options.model_validate(said), Wires(), SystemClock()
        intake = RecordingIntake()
        listening = asyncio.create_task(MQTT.create("cellar", options, ["left/t"], clock, wires).run(intake))
        await intake.until_connected()
        wire = mqtt_wire("publisher", options, clock, wires)
        command = ["mosquitto_sub", "-h", "127.0.0.1", "-p", str(broker.port), "-V", "5", "-t", "out/#", "-C", "2"]
        command += ["-F", "%t %p %r %E"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as hearing:  # noqa: ASYNC220 - soon started
            await asyncio.to_thread(_until_subscribed, broker)
            async with wire.used() as conversation:
                speaker: Publishing = conversation
                await speaker.publish("out/a", b"hello")
                await speaker.publish("out/b", b"18.5", expires_after_s=60)
                await asyncio.to_thread(broker.publish, "cellar/left/t", "19.5")
                await intake.until_heard("left/t", 19.5)
            heard = (await asyncio.to_thread(hearing.communicate, None, GUARD_S))[0]
        assert heard.splitlines() == ["out/a hello 0 ", "out/b 18.5 0 60"]
        assert broker.log().count("as fermwatch-cellar") == 1, "one connection"
        listening.cancel()
        await asyncio.gather(listening, return_exceptions=True)
        wire._version = V311
        async with wire.used() as conversation:
            with pytest.raises(ProbeRefused, match=r"3\.1\.1 only, in which no message expires"):
                await conversation.publish("out/c", b"1", expires_after_s=60)
            await conversation.publish("out/c", b"1")
            await asyncio.to_thread(broker.kill)
            with pytest.raises(ProbeUnavailable, match=r"was lost|did not take over"):
                await conversation.publish("out/c", b"1")
        assert _sockets() == before, "the user left while the connection was ending"


def _sockets() -> int:
    return sum(path.is_socket() for path in Path("/proc/self/fd").iterdir())


def _until_subscribed(broker: Broker) -> None:
    while "out/#" not in broker.log():
        threading.Event().wait(0.02)
