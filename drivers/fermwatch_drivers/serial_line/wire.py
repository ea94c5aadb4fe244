"""A serial port and the lines that come in on it, for all who listen."""

import asyncio
import contextlib
import termios
from collections.abc import Callable, Iterator
from contextlib import AbstractAsyncContextManager
from dataclasses import dataclass, replace
from datetime import datetime
from typing import NoReturn

from fermwatch.clock import Clock
from fermwatch.contracts.wire import NoAnswerInTime, NoLongerWanted, Wires
from fermwatch.errors import ProbeUnavailable
from fermwatch.text import clean
from fermwatch_drivers.serial_line.framer import LineFramer
from fermwatch_drivers.serial_line.options import PortOptions
from fermwatch_drivers.serial_line.port import PORT_ERRORS, close_port, explain_loss, opened_port, send
from fermwatch_drivers.serial_line.stream import ByteStream
from fermwatch_drivers.sharing import Shared

_CHUNK = 4096  # bytes per turn of the event loop: a few milliseconds of work at the very worst
_OF_THE_PORT = ("baud", "byte_size", "parity", "stop_bits", "silence_timeout_s")


def serial_wire(name: str, options: PortOptions, clock: Clock, wires: Wires) -> "SerialWire":
    """The wire to a port, shared with whoever else names it. Raises ConfigError where its settings differ."""
    settings = {"driver": "serial-line", **{key: getattr(options, key) for key in _OF_THE_PORT}}
    return wires.share(options.port, settings, name, lambda: SerialWire(options, clock))


@dataclass(frozen=True, slots=True)
class Lines:
    """Whole lines that came in together. overlong: how many were given up. since_opening_s: the port's age."""

    whole: tuple[bytes, ...]
    overlong: int
    received_at: datetime
    since_opening_s: float


class SerialWire:
    """One port, opened when somebody uses it."""

    def __init__(self, options: PortOptions, clock: Clock) -> None:
        self._options, self._clock = options, clock
        self._shared: Shared[SerialLine] = Shared(f"serial {options.port}", self._run)

    def used(self) -> AbstractAsyncContextManager["SerialLine"]:
        """The open port. Raises ProbeError where it cannot be opened."""
        return self._shared.used()

    async def _run(self, opened: "Callable[[SerialLine], None]") -> None:
        options = self._options
        port = await opened_port(options)
        try:
            line = SerialLine(port.fileno(), options, self._clock)
            opened(line)
            await line.read_on()
        finally:
            close_port(port)


class SerialLine:
    """An open port. What comes in is cut into lines once, and read on when everybody who listens has taken them."""

    def __init__(self, descriptor: int, options: PortOptions, clock: Clock) -> None:
        self._descriptor, self._options, self._clock = descriptor, options, clock
        self._opened_s = clock.monotonic_s()
        self._ears: list[Ear] = []
        self._error: BaseException | None = None
        self._closed = False
        self._spoke = False  # whether anything was heard since the port was opened
        self._asking = asyncio.Lock()
        self._question: _Question | None = None
        self._late: _Question | None = None  # the one before, where it was not answered

    @contextlib.contextmanager
    def listened(self) -> Iterator["Ear"]:
        """Hear every line from now on."""
        ear = Ear(self._error)
        self._ears.append(ear)
        try:
            yield ear
        finally:
            self._ears.remove(ear)
            ear.close()

    @property
    def since_opening_s(self) -> float:
        """The port's age: opening restarts many boards."""
        return self._clock.monotonic_s() - self._opened_s

    async def ask(
        self,
        question: bytes,
        is_answer: Callable[[bytes], bool],
        *,
        limit_s: float,
        wanted: Callable[[], bool] = lambda: True,
    ) -> bytes:
        """See `fermwatch.contracts.wire.Asking`."""
        async with self._asking:
            await self._hear_out()
            if self._error is not None:
                raise self._error
            if not wanted():
                raise NoLongerWanted
            answer: asyncio.Future[bytes] = asyncio.get_running_loop().create_future()
            self._question = _Question(is_answer, answer, limit_s, is_first=not self._spoke)
            try:
                async with asyncio.timeout(limit_s):
                    await send(self._descriptor, question + b"\n", lambda: not self._closed, self._options.port)
                    return await self._question.answer
            except TimeoutError:
                self._late = self._question.again()
                raise NoAnswerInTime(
                    f"No answer from {clean(self._options.port)} within {limit_s:g} s.",
                    hint="Does the board's program know the question?",
                ) from None
            except asyncio.CancelledError:
                self._late = self._question.again()
                raise
            except PORT_ERRORS as error:
                raise explain_loss(error, self._options.port) from error
            finally:
                self._question = None
                if self._late is not None and not self._closed:
                    with contextlib.suppress(*PORT_ERRORS):  # a port that is gone is told of by whoever reads it
                        termios.tcflush(self._descriptor, termios.TCOFLUSH)  # it must not go out later

    async def read_on(self) -> NoReturn:
        """Until the port is gone, or was silent for too long: ProbeUnavailable."""
        stream = ByteStream(self._descriptor, _CHUNK, self._options.silence_timeout_s or None)
        framer = LineFramer()
        try:
            while True:
                whole, overlong = framer.feed(await self._next(stream))
                self._spoke = True
                if framer.first and self._question is not None and self._question.is_first:
                    self._without_the_answer([framer.first])  # before the question there was nothing to be missed
                whole = self._without_the_answer(whole)
                if whole or overlong:
                    since_s = self._clock.monotonic_s() - self._opened_s
                    lines = Lines(tuple(whole), overlong, self._clock.now(), since_s)
                    for ear in tuple(self._ears):
                        await ear.take(lines)
        finally:
            self._closed = True  # before its number can mean another file
            stream.close()

    def ended(self, error: BaseException) -> None:
        """See `fermwatch_drivers.sharing.Connection`."""
        self._error = error
        for ear in self._ears:
            ear.end(error)
        if self._question is not None and not self._question.answer.done():
            self._question.answer.set_exception(error)
        if self._late is not None:
            self._late.answer.cancel()

    async def _hear_out(self) -> None:
        """Wait for the answer that the question before did not get, as long as it was waited for already."""
        if self._late is not None:
            await asyncio.wait({self._late.answer}, timeout=self._late.limit_s)
            self._late = None

    def _without_the_answer(self, whole: list[bytes]) -> list[bytes]:
        question = self._question or self._late
        if question is None or question.answer.done():
            return whole
        at = next((at for at, line in enumerate(whole) if question.is_answer(line)), None)
        if at is None:
            return whole
        question.answer.set_result(whole[at])
        return whole[:at] + whole[at + 1 :]

    async def _next(self, stream: ByteStream) -> bytes:
        """The next bytes. Raises ProbeUnavailable when the port is gone or has been silent for too long."""
        port = self._options.port
        try:
            chunk = await stream.read()
        except TimeoutError:
            raise ProbeUnavailable(
                f"Not a byte from {clean(port)} for {self._options.silence_timeout_s:g} s.",
                hint="Is the board powered and sending, at this baud rate? silence_timeout_s sets the limit.",
            ) from None
        except PORT_ERRORS as error:
            raise explain_loss(error, port) from error
        if not chunk:
            raise explain_loss(None, port)
        return chunk


@dataclass(frozen=True, slots=True)
class _Question:
    is_answer: Callable[[bytes], bool]
    answer: "asyncio.Future[bytes]"
    limit_s: float
    is_first: bool  # nothing was heard before it was asked

    def again(self) -> "_Question":
        """Its answer may still come."""
        return replace(self, answer=asyncio.get_running_loop().create_future())


class Ear:
    """One who listens. Holds what was heard last until it is taken, which holds the port back."""

    def __init__(self, error: BaseException | None) -> None:
        self._waiting: Lines | None = None
        self._error = error
        self._closed = False
        self._changed = asyncio.Event()

    async def next(self) -> Lines:
        """What was heard next; once the line has ended and all is taken, its error is raised."""
        while self._waiting is None:
            if self._error is not None:
                raise self._error
            await self._change()
        lines, self._waiting = self._waiting, None
        self._changed.set()
        return lines

    async def take(self, lines: Lines) -> None:
        while self._waiting is not None and not self._closed:
            await self._change()
        if not self._closed:
            self._waiting = lines
            self._changed.set()

    def end(self, error: BaseException) -> None:
        self._error = error
        self._changed.set()

    def close(self) -> None:
        self._closed = True
        self._changed.set()

    async def _change(self) -> None:
        self._changed.clear()
        await self._changed.wait()
