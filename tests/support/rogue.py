"""A Modbus TCP device of our own making that misbehaves: late, lost, damaged, foreign and exceptional answers.

Each register holds a number that no other register ever holds. A bit that is turned inside a value, under the right
transaction, device, function and length, is not among its tricks: Modbus TCP has nothing to tell that by.
"""

import asyncio
import random
from collections import Counter
from collections.abc import Callable

TRANSACTION, DEVICE, FUNCTION = 0, 6, 7  # where they stand in a frame
STEPS = 100  # numbers that each register has for its own


def number_of(address: int, step: int) -> int:
    return address * STEPS + step


class Rogue:
    """tricks: how often each was played. applied: the address and the words of all writes that it did."""

    def __init__(self, chance: random.Random, *, registers: int, late_s: float) -> None:
        self._chance, self._late_s = chance, late_s
        self.words = [number_of(address, 0) for address in range(registers)]
        self.tricks: Counter[str] = Counter()
        self.applied: list[tuple[int, tuple[int, ...]]] = []
        self.excepted: set[int] = set()
        self._said = b""
        self._late: set[asyncio.Task[None]] = set()
        self.last: dict[asyncio.StreamWriter, bytes] = {}  # the answer before, on each connection

    async def start(self) -> int:
        self._server = await asyncio.start_server(self._serve, "127.0.0.1", 0)
        port: int = self._server.sockets[0].getsockname()[1]
        return port

    async def stop(self) -> None:
        self._server.close()
        await self.rest()
        await self._server.wait_closed()

    async def rest(self) -> None:
        """Say nothing more of what is late."""
        for task in self._late:
            task.cancel()
        await asyncio.gather(*self._late, return_exceptions=True)

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            while True:
                head = await reader.readexactly(6)
                question = head + await reader.readexactly(int.from_bytes(head[4:6], "big"))
                trick = self._chance.choice(_TRICKS) if self._chance.random() < 0.35 else _well
                self.tricks[trick.__name__.strip("_")] += 1
                self._said = b""
                trick(self, question, writer)
                self.last[writer] = self._said or self.last.get(writer, b"")  # and never another connection's
                if writer.is_closing():
                    return
        except (asyncio.IncompleteReadError, ConnectionResetError):
            return
        finally:
            writer.close()

    def answer(self, question: bytes) -> bytes:
        """Do it, and say so as the protocol has it."""
        code, address = question[FUNCTION], int.from_bytes(question[8:10], "big")
        if code in {3, 4}:
            words = self.words[address : address + int.from_bytes(question[10:12], "big")]
            body = bytes([code, 2 * len(words)]) + b"".join(word.to_bytes(2, "big") for word in words)
        else:
            data = question[10:12] if code == 6 else question[13:]
            written = tuple(int.from_bytes(data[at : at + 2], "big") for at in range(0, len(data), 2))
            self.words[address : address + len(written)] = written
            self.applied.append((address, written))
            body = question[FUNCTION:12]
        self._said = framed(question, body)
        return self._said

    def answer_elsewhere(self, question: bytes) -> bytes:
        """As if it had been about the register behind, in a device that keeps nothing."""
        before = list(self.words)
        said = self.answer(
            question[:8] + (int.from_bytes(question[8:10], "big") + 1).to_bytes(2, "big") + question[10:]
        )
        self.words = before
        return said

    def later(self, say: Callable[[], None]) -> None:
        async def wait() -> None:
            await asyncio.sleep(self._late_s * self._chance.uniform(1.0, 3.0))
            say()

        task = asyncio.create_task(wait())
        self._late.add(task)
        task.add_done_callback(self._late.discard)

    def one_of(self, low: int, high: int) -> int:
        return self._chance.randint(low, high)


def framed(question: bytes, body: bytes) -> bytes:
    return question[:4] + (len(body) + 1).to_bytes(2, "big") + question[DEVICE : DEVICE + 1] + body


Trick = Callable[[Rogue, bytes, asyncio.StreamWriter], None]


def _well(rogue: Rogue, question: bytes, writer: asyncio.StreamWriter) -> None:
    writer.write(rogue.answer(question))


def _late(rogue: Rogue, question: bytes, writer: asyncio.StreamWriter) -> None:
    answer = rogue.answer(question)
    rogue.later(lambda: None if writer.is_closing() else writer.write(answer))


def _lost(rogue: Rogue, question: bytes, _writer: asyncio.StreamWriter) -> None:
    rogue.answer(question)


def _ignored(_rogue: Rogue, _question: bytes, _writer: asyncio.StreamWriter) -> None:
    """Neither done nor answered."""


def _twice(rogue: Rogue, question: bytes, writer: asyncio.StreamWriter) -> None:
    writer.write(2 * rogue.answer(question))


def _in_pieces(rogue: Rogue, question: bytes, writer: asyncio.StreamWriter) -> None:
    for byte in rogue.answer(question):
        writer.write(bytes([byte]))


def _answer_before(rogue: Rogue, question: bytes, writer: asyncio.StreamWriter) -> None:
    """As a device does that answers one behind."""
    rogue.answer(question)
    writer.write(rogue.last.get(writer, b""))


def _answer_before_under_this_number(rogue: Rogue, question: bytes, writer: asyncio.StreamWriter) -> None:
    """A gateway's mistake; it is found out wherever function, length or echo differ, and else it is not made here."""
    answer = rogue.answer(question)
    before = rogue.last.get(writer) or answer
    writer.write(answer if before[FUNCTION:9] == answer[FUNCTION:9] else question[:2] + before[2:])


def _another_number(rogue: Rogue, question: bytes, writer: asyncio.StreamWriter) -> None:
    answer = rogue.answer(question)
    writer.write(rogue.one_of(0, 0xFFFF).to_bytes(2, "big") + answer[2:] if answer[:2] != b"\0\0" else answer)


def _another_device(rogue: Rogue, question: bytes, writer: asyncio.StreamWriter) -> None:
    """Which has other numbers, and does what this one was to do."""
    answer = bytearray(rogue.answer_elsewhere(question))
    answer[8:10] = question[8:10] if answer[FUNCTION] in {6, 16} else answer[8:10]
    answer[DEVICE] = (answer[DEVICE] + rogue.one_of(1, 254)) % 256
    writer.write(answer)


def _elsewhere(rogue: Rogue, question: bytes, writer: asyncio.StreamWriter) -> None:
    """A write that is done to the register behind, and confirmed as that; a read is answered as it should be."""
    writer.write(rogue.answer_elsewhere(question) if question[FUNCTION] in {6, 16} else rogue.answer(question))


def _another_function(rogue: Rogue, question: bytes, writer: asyncio.StreamWriter) -> None:
    answer = bytearray(rogue.answer(question))
    answer[FUNCTION] = {3: 4, 4: 3, 6: 16, 16: 6}[answer[FUNCTION]]
    writer.write(answer)


def _another_length(rogue: Rogue, question: bytes, writer: asyncio.StreamWriter) -> None:
    body = rogue.answer(question)[FUNCTION:]
    body = body + b"\0\1" if rogue.one_of(0, 1) else body[:-1]
    writer.write(framed(question, body))


def _another_count(rogue: Rogue, question: bytes, writer: asyncio.StreamWriter) -> None:
    """Of bytes in a read's answer, or another register in a write's echo."""
    answer = bytearray(rogue.answer(question))
    answer[8] = (answer[8] + rogue.one_of(1, 255)) % 256
    writer.write(answer)


def _exception(rogue: Rogue, question: bytes, writer: asyncio.StreamWriter) -> None:
    code = rogue.one_of(1, 11)
    rogue.excepted.add(code)
    writer.write(framed(question, bytes([question[FUNCTION] | 0x80, code])))


def _no_modbus(_rogue: Rogue, _question: bytes, writer: asyncio.StreamWriter) -> None:
    writer.write(b"HTTP/1.1 400 Bad Request\r\n\r\n")


def _hang_up(rogue: Rogue, question: bytes, writer: asyncio.StreamWriter) -> None:
    answer = rogue.answer(question)
    writer.write(answer[: rogue.one_of(0, len(answer) - 1)])
    writer.close()


_TRICKS: list[Trick] = [
    _late,
    _lost,
    _ignored,
    _twice,
    _in_pieces,
    _answer_before,
    _answer_before_under_this_number,
    _another_number,
    _another_device,
    _elsewhere,
    _another_function,
    _another_length,
    _another_count,
    _exception,
    _no_modbus,
    _hang_up,
]
TRICKS = {trick.__name__.strip("_") for trick in _TRICKS}
