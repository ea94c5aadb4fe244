"""Listening to a serial port at whatever speed makes sense. A port that another program has is left alone."""

import asyncio
import os
from collections.abc import Sequence
from pathlib import Path

import serial
from serial.tools import list_ports

from fermwatch.clock import Clock
from fermwatch.contracts.overhearing import PlaceNews, Told, Utterance
from fermwatch.errors import ProbeError
from fermwatch.text import clean
from fermwatch_drivers.overhearing.lines import looks_like_text, read_line
from fermwatch_drivers.serial_line.framer import LineFramer
from fermwatch_drivers.serial_line.options import PortOptions
from fermwatch_drivers.serial_line.port import PORT_ERRORS, close_port, explain_loss, holders, opened_port
from fermwatch_drivers.serial_line.stream import ByteStream

USUAL_SPEEDS = (115200, 9600, 57600, 38400, 19200, 4800, 230400)  # the most usual first (common practice)
SILENT_AFTER_S = 5.0
_ENOUGH = 48  # bytes to tell a wrong speed by
_PATIENCE_S = 4.0  # for so many, once something came
_CHUNK = 4096
_STABLE_NAMES = (Path("/dev/serial/by-id"), Path("/dev/serial/by-path"))
_UNREAD = "no numbers that a format knows: a line is best t1=19.4 g=1.048, or one JSON object"


def ports() -> list[str]:
    """The serial ports of this machine, each by the name that it keeps when ports are renumbered, where it has one."""
    stable: dict[str, str] = {}
    for directory in reversed(_STABLE_NAMES):
        try:
            stable |= {os.path.realpath(entry): str(entry) for entry in directory.iterdir()}
        except OSError:  # none is plugged in, or the system does not name them
            continue
    found = {os.path.realpath(port.device) for port in list_ports.comports()} | set(stable)
    return sorted(stable.get(real, real) for real in found)


def _is_pseudo(port: str) -> bool:
    """A pseudo-terminal is held by whoever speaks at its other end too."""
    return Path(os.path.realpath(port)).parent == Path("/dev/pts")


async def overhear_port(port: str, told: Told, clock: Clock, speeds: Sequence[int] = USUAL_SPEEDS) -> None:
    """Tell every line until cancelled, or until the port is lost, which is told too."""
    try:
        if (holding := holders(port)) and not _is_pseudo(port):
            told(PlaceNews(port, f"in use{holding}: left alone", "A port serves one program; end that one.", over=True))
            return
        options = PortOptions(port=port, baud=speeds[0])
        opened = await opened_port(options)
    except ProbeError as error:
        told(PlaceNews(port, error.message, error.hint, over=True))
        return
    try:
        await _Listening(port, opened, told, clock, speeds).run()
    except PORT_ERRORS as error:
        loss = explain_loss(error, port)
        told(PlaceNews(port, loss.message, loss.hint, over=True))
    finally:
        close_port(opened)


class _Listening:
    def __init__(self, port: str, opened: serial.Serial, told: Told, clock: Clock, speeds: Sequence[int]) -> None:
        self._port, self._opened, self._told, self._clock, self._speeds = port, opened, told, clock, speeds

    async def run(self) -> None:
        stream = ByteStream(self._opened.fileno(), _CHUNK, None)
        try:
            self._told(PlaceNews(self._port, f"open at {self._speeds[0]} baud"))
            speed, sample = await self._speed(stream)
            await self._lines(stream, speed, sample)
        finally:
            stream.close()

    async def _speed(self, stream: ByteStream) -> tuple[int, bytes]:
        """The first speed at which what comes is text, and what was heard at it."""
        tried = 0
        while True:
            speed = self._speeds[tried % len(self._speeds)]
            sample = await self._sample(stream)
            if looks_like_text(sample):
                return speed, sample
            tried += 1
            following = self._speeds[tried % len(self._speeds)]
            if tried == len(self._speeds):
                only = len(self._speeds) == 1
                text = f"no text at {speed} baud" if only else "no text at any usual speed"
                hint = "Leave --baud away: the usual ones are tried." if only else "Say the board's own with --baud."
                self._told(PlaceNews(self._port, text, hint))
            elif tried < len(self._speeds):
                self._told(PlaceNews(self._port, f"no text at {speed} baud: tries {following}"))
            self._opened.baudrate = following  # without closing it, which would restart many a board
            self._opened.reset_input_buffer()

    async def _sample(self, stream: ByteStream) -> bytes:
        """Enough to tell by, however long nothing comes."""
        heard = await self._next(stream)
        until_s = self._clock.monotonic_s() + _PATIENCE_S
        while len(heard) < _ENOUGH and (left_s := until_s - self._clock.monotonic_s()) > 0:
            try:
                async with asyncio.timeout(left_s):
                    heard += await self._chunk(stream)
            except TimeoutError:
                break
        return heard

    async def _next(self, stream: ByteStream) -> bytes:
        silence_told = False
        while True:
            try:
                async with asyncio.timeout(None if silence_told else SILENT_AFTER_S):
                    return await self._chunk(stream)
            except TimeoutError:
                silence_told = True
                hint = "Is the board powered, and does its program print?"
                self._told(PlaceNews(self._port, f"silent for {SILENT_AFTER_S:g} s", hint))

    async def _lines(self, stream: ByteStream, speed: int, heard: bytes) -> None:
        framer = LineFramer()
        while True:
            whole, overlong = framer.feed(heard)
            for line in whole:
                self._told(self._utterance(line, speed))
            if overlong:
                self._told(PlaceNews(self._port, "a line without an end", "Is it a board that prints lines?"))
            await asyncio.sleep(0)  # a port at full speed must not keep the loop from the others
            heard = await self._chunk(stream)

    async def _chunk(self, stream: ByteStream) -> bytes:
        chunk = await stream.read()
        if not chunk:
            raise OSError("hung up")
        return chunk

    def _utterance(self, line: bytes, speed: int) -> Utterance:
        read = read_line(line)
        settings: tuple[tuple[str, str | int | bool], ...] = (("port", self._port), ("baud", speed))
        if read is None:
            return Utterance(self._port, "serial-line", settings, clean(line, 200), remark=_UNREAD)
        return Utterance(self._port, "serial-line", (*settings, *read.settings), clean(line, 200), read.fields)
