"""A connection to a controller, or to a gateway with several behind it: one question at a time, whoever asks.

An answer is known by its transaction, so that one which comes late is nobody's. A write whose answer does not come ends
the connection with all that the machine has not sent of it: a network that comes back must not deliver it then.
"""

import asyncio
import contextlib
import itertools
import socket
import struct
from collections.abc import Callable, Iterator
from contextlib import AbstractAsyncContextManager
from typing import NoReturn

from fermwatch.clock import Clock
from fermwatch.contracts.wire import NoLongerWanted, Wires
from fermwatch.errors import ProbeMisbehaving, ProbeUnavailable
from fermwatch.text import clean
from fermwatch_drivers.modbus import frames
from fermwatch_drivers.modbus.frames import Question, Write
from fermwatch_drivers.modbus.line import Addressed, NoAnswer
from fermwatch_drivers.modbus.options import ModbusTcpOptions
from fermwatch_drivers.reaching import reach
from fermwatch_drivers.sharing import Shared

_SHORT_HEADER = 6  # bytes until an answer's length is known
_UNANSWERED_BORNE = 3  # questions in a row, after which the connection is opened anew
_AT_ONCE = struct.pack("ii", 1, 0)  # SO_LINGER: what was not sent yet is dropped


def tcp_wire(name: str, options: ModbusTcpOptions, _clock: Clock, wires: Wires) -> "TcpWire":
    """The wire to this host, shared with whoever else names it."""
    place = f"{options.host}:{options.port}"
    return wires.share(place, {"driver": "modbus-tcp"}, name, lambda: TcpWire(options.host, options.port))


class TcpWire:
    """One host and port, connected when somebody uses it."""

    def __init__(self, host: str, port: int) -> None:
        self._host, self._port = host, port
        self._shared: Shared[TcpLine] = Shared(f"modbus {host}:{port}", self._run)
        # They go on over connections: a gateway may hand an answer to the next one.
        self._transactions = itertools.cycle(range(1, 0x10000))

    @property
    def place(self) -> str:
        return f"{clean(self._host)}:{self._port}"

    def used(self) -> AbstractAsyncContextManager["TcpLine"]:
        """The open connection. Raises ProbeUnavailable where it cannot be had."""
        return self._shared.used()

    async def _run(self, opened: "Callable[[TcpLine], None]") -> None:
        connection = await reach(self._host, self._port, "controller")
        try:
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            reader, writer = await asyncio.open_connection(sock=connection)
        except BaseException:
            connection.close()
            raise
        line = TcpLine(self.place, reader, writer, self._transactions)
        try:
            opened(line)
            await line.read_on()
        finally:
            line.close()
            with contextlib.suppress(OSError):
                await writer.wait_closed()


class TcpLine:
    """An open connection. met: the devices on it that were found to be what their users take them for."""

    def __init__(
        self, place: str, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, transactions: Iterator[int]
    ) -> None:
        self.met: set[object] = set()
        self._place, self._reader, self._writer, self._transactions = place, reader, writer, transactions
        self._error: BaseException | None = None
        self._turn = asyncio.Lock()
        self._waiting: tuple[int, asyncio.Future[bytes]] | None = None
        self._unanswered = 0
        self._given_up = asyncio.Event()

    async def ask(
        self, asked: Addressed, *, limit_s: float, wanted: Callable[[], bool] = lambda: True
    ) -> tuple[int, ...]:
        """See `fermwatch_drivers.modbus.line.Line`."""
        async with self._turn:
            if self._error is not None:
                raise self._error
            if not wanted():
                raise NoLongerWanted
            transaction = next(self._transactions)
            answer: asyncio.Future[bytes] = asyncio.get_running_loop().create_future()
            self._waiting = (transaction, answer)
            try:
                self._writer.write(frames.tcp_question(asked.question, asked.device_id, transaction))
                async with asyncio.timeout(limit_s):
                    body = await answer
            except TimeoutError:
                self._miss(asked.question)
                raise NoAnswer(asked, self._place, limit_s) from None
            except asyncio.CancelledError:
                if isinstance(asked.question, Write):
                    self._give_up()
                raise
            finally:
                self._waiting = None
            self._unanswered = 0
            return frames.read_answer(asked.question, asked.device_id, body)

    async def read_on(self) -> NoReturn:
        """Until the connection ends, is damaged, or was given up: ProbeUnavailable."""
        reading = asyncio.ensure_future(self._read_answers())
        giving_up = asyncio.ensure_future(self._given_up.wait())
        try:
            await asyncio.wait({reading, giving_up}, return_when=asyncio.FIRST_COMPLETED)
            if reading.done():
                reading.result()
            raise self._error or RuntimeError("given up without a reason")
        finally:
            for task in (reading, giving_up):
                task.cancel()
            await asyncio.gather(reading, giving_up, return_exceptions=True)

    def ended(self, error: BaseException) -> None:
        """See `fermwatch_drivers.sharing.Connection`."""
        self._error = error
        if self._waiting is not None and not self._waiting[1].done():
            self._waiting[1].set_exception(error)

    def close(self) -> None:
        """At once, with what was not sent yet."""
        raw: socket.socket | None = self._writer.get_extra_info("socket")
        if raw is not None:
            with contextlib.suppress(OSError):
                raw.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, _AT_ONCE)
        self._writer.transport.abort()

    async def _read_answers(self) -> None:
        try:
            while True:
                transaction, length = frames.tcp_length(await self._reader.readexactly(_SHORT_HEADER))
                body = await self._reader.readexactly(length)
                if self._waiting is not None and self._waiting[0] == transaction and not self._waiting[1].done():
                    self._waiting[1].set_result(body)
        except (OSError, asyncio.IncompleteReadError) as error:
            reason = f" ({clean(error.strerror)})" if isinstance(error, OSError) and error.strerror else ""
            raise ProbeUnavailable(f"{self._place} hung up{reason}.", hint="Is the controller on?") from error
        except ProbeMisbehaving as error:
            raise ProbeUnavailable(
                f"{self._place} said something that is no Modbus TCP.", hint="Are host and port the controller's?"
            ) from error

    def _miss(self, question: Question) -> None:
        self._unanswered += 1
        if isinstance(question, Write) or self._unanswered >= _UNANSWERED_BORNE:
            self._give_up()

    def _give_up(self) -> None:
        hint = "Is the controller on, and its device_id right?"
        self._error = ProbeUnavailable(f"{self._place} does not answer.", hint=hint)
        self.close()
        self._given_up.set()
