"""A serial line with Modbus devices on it (Serial Line V1.02): one question at a time, whoever asks.

An answer carries no number, so that one which comes late can be told from the next question's only by when it comes:
after a question without its whole answer the line must be silent for a while before anything else is asked. That
while, `drain_s`, is all that RTU can promise.
"""

import asyncio
import contextlib
import termios
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from typing import NoReturn

from fermwatch.clock import Clock
from fermwatch.contracts.wire import NoLongerWanted, Wires
from fermwatch.errors import ProbeMisbehaving, ProbeUnavailable
from fermwatch.text import clean
from fermwatch_drivers.modbus import frames
from fermwatch_drivers.modbus.frames import ModbusException, Question
from fermwatch_drivers.modbus.line import Addressed, NoAnswer
from fermwatch_drivers.modbus.options import ModbusRtuOptions
from fermwatch_drivers.serial_line.port import PORT_ERRORS, close_port, explain_loss, opened_port, send
from fermwatch_drivers.serial_line.stream import ByteStream
from fermwatch_drivers.sharing import Shared

_CHUNK = 512
_LONGEST = 256  # bytes of a frame
_DRAINS_BORNE = 10  # times `drain_s` of bytes without a pause, after which something else speaks on the line
_FAST_BAUD, _FAST_PAUSE_S = 19_200, 0.00175  # section 2.5.1.1: the pause between frames at this speed and above
_CHARACTERS = 3.5  # the pause below it
_BITS = 11  # of a character, with start, parity and stop
_OF_THE_LINE = ("baud", "parity", "stop_bits", "drain_s")


def rtu_wire(name: str, options: ModbusRtuOptions, clock: Clock, wires: Wires) -> "RtuWire":
    """The wire to a port, shared with whoever else names it. Raises ConfigError where its settings differ."""
    settings = {"driver": "modbus-rtu", **{key: getattr(options, key) for key in _OF_THE_LINE}}
    return wires.share(options.port, settings, name, lambda: RtuWire(options, clock))


class RtuWire:
    """One port, opened when somebody uses it."""

    def __init__(self, options: ModbusRtuOptions, clock: Clock) -> None:
        self._options, self._clock = options, clock
        self._shared: Shared[RtuLine] = Shared(f"modbus {options.port}", self._run)

    @property
    def place(self) -> str:
        return clean(self._options.port)

    def used(self) -> AbstractAsyncContextManager["RtuLine"]:
        """The open port. Raises ProbeError where it cannot be opened."""
        return self._shared.used()

    async def _run(self, opened: "Callable[[RtuLine], None]") -> None:
        port = await opened_port(self._options)
        try:
            line = RtuLine(port.fileno(), self._options, self._clock)
            opened(line)
            await line.read_on()
        finally:
            close_port(port)


class RtuLine:
    """An open port. met: see `fermwatch_drivers.modbus.line.Line`."""

    def __init__(self, descriptor: int, options: ModbusRtuOptions, clock: Clock) -> None:
        self.met: set[object] = set()
        self._descriptor, self._options, self._clock = descriptor, options, clock
        self._pause_s = _FAST_PAUSE_S if options.baud >= _FAST_BAUD else _CHARACTERS * _BITS / options.baud
        self._turn = asyncio.Lock()
        self._news = asyncio.Event()
        self._heard = b""
        self._owed = True  # an answer to a question of before, also of whoever had the port before us
        self._error: BaseException | None = None
        self._closed = False

    async def ask(
        self, addressed: Addressed, *, limit_s: float, wanted: Callable[[], bool] = lambda: True
    ) -> tuple[int, ...]:
        """See `fermwatch_drivers.modbus.line.Line`."""
        async with self._turn:
            await self._fall_silent()
            if self._error is not None:
                raise self._error
            if not wanted():
                raise NoLongerWanted
            self._owed = True  # until it is answered whole
            try:
                frame = await self._answer_to(addressed, limit_s)
            except TimeoutError:
                self._flush(termios.TCOFLUSH)  # what the port has not sent yet must not go out later
                raise NoAnswer(addressed, clean(self._options.port), limit_s) from None
            except asyncio.CancelledError:
                self._flush(termios.TCOFLUSH)
                raise
            except PORT_ERRORS as error:
                raise explain_loss(error, self._options.port) from error
            try:
                words = frames.read_answer(addressed.question, addressed.device_id, frames.rtu_body(frame))
            except ModbusException:
                self._owed = False
                raise
            self._owed = False
            return words

    async def read_on(self) -> NoReturn:
        """Until the port is gone: ProbeUnavailable."""
        stream = ByteStream(self._descriptor, _CHUNK, None)
        try:
            while True:
                chunk = await stream.read()
                if not chunk:
                    raise explain_loss(None, self._options.port)
                self._heard = (self._heard + chunk)[: _LONGEST + 1]
                self._news.set()
        except PORT_ERRORS as error:
            raise explain_loss(error, self._options.port) from error
        finally:
            self._closed = True  # before its number can mean another file
            stream.close()

    def ended(self, error: BaseException) -> None:
        """See `fermwatch_drivers.sharing.Connection`."""
        self._error = error
        self._news.set()

    async def _answer_to(self, addressed: Addressed, limit_s: float) -> bytes:
        """The bytes that came back, as many as an answer has. Raises TimeoutError, PORT_ERRORS, ProbeError."""
        question = frames.rtu_question(addressed.question, addressed.device_id)
        # What came in until now is no answer to this, be it here already or still with the machine.
        self._flush(termios.TCIFLUSH)
        self._heard = b""
        async with asyncio.timeout(limit_s):
            await send(self._descriptor, question, lambda: not self._closed, self._options.port)
            while not self._is_whole(addressed.question):
                await self._change()
        return self._heard

    def _is_whole(self, question: Question) -> bool:
        """Whether an answer has come in; an answer and more is none."""
        if self._error is not None:
            raise self._error
        length = frames.rtu_length(question, self._heard)
        if length is not None and len(self._heard) > length:
            raise ProbeMisbehaving("more than an answer, or something else")
        return length is not None and len(self._heard) == length

    async def _fall_silent(self) -> None:
        """Wait for the pause between two frames; where an answer is owed, until it will not come any more."""
        if self._owed:
            until_s = self._clock.monotonic_s() + _DRAINS_BORNE * self._options.drain_s
            with contextlib.suppress(TimeoutError):
                while self._error is None:
                    if self._clock.monotonic_s() > until_s:
                        raise ProbeUnavailable(
                            f"Something speaks without a pause on {clean(self._options.port)}.",
                            hint="Are baud, parity and stop_bits those of the controller, and is it Modbus RTU?",
                        )
                    async with asyncio.timeout(self._options.drain_s):
                        await self._change()
        await asyncio.sleep(self._pause_s)

    async def _change(self) -> None:
        self._news.clear()
        await self._news.wait()

    def _flush(self, which: int) -> None:
        if not self._closed:
            with contextlib.suppress(*PORT_ERRORS):  # a port that is gone is told of by whoever reads it
                termios.tcflush(self._descriptor, which)
