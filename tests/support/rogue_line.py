"""The misbehaving device on a serial line: what it says is late, lost, cut short, noisy, another's, or exceptional.

Damage is of one to three bits: the checksum of a frame finds out all of that (Hamming distance 4; of more, all but one
in 65,536), and the next device on the line is no better.
"""

import asyncio
import os
import random
import tty
from collections.abc import Callable

from tests.support.rogue import DEVICE, FUNCTION, Rogue, framed

_WRITES = {6, 16}


def checksum(frame: bytes) -> bytes:
    """CRC-16 of Serial Line V1.02, section 6.2.2: reflected, polynomial A001, preset to ones; low byte first."""
    crc = 0xFFFF
    for byte in frame:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ 0xA001 if crc & 1 else crc >> 1
    return crc.to_bytes(2, "little")


class RogueLine:
    """One line with the device at its end. Lives on the running loop. often: how often it plays a trick."""

    def __init__(self, rogue: Rogue, chance: random.Random, *, often: float = 0.2) -> None:
        self.rogue, self.chance, self._often = rogue, chance, often
        self._end, self._near = os.openpty()
        tty.setraw(self._near)
        os.set_blocking(self._end, False)
        self._heard = b""
        self._loop = asyncio.get_running_loop()
        self._loop.add_reader(self._end, self._hear)

    @property
    def port(self) -> str:
        return os.ttyname(self._near)

    def say(self, data: bytes) -> None:
        os.write(self._end, data)

    def close(self) -> None:
        self._loop.remove_reader(self._end)
        os.close(self._end)
        os.close(self._near)

    def _hear(self) -> None:
        self._heard += os.read(self._end, 512)
        size = 8 if len(self._heard) < 7 or self._heard[1] != 16 else 9 + self._heard[6]
        if len(self._heard) < size:
            return
        frame, self._heard = self._heard[:size], self._heard[size:]
        assert checksum(frame[:-2]) == frame[-2:], "what we send is right"
        question = bytes(4) + (size - 2).to_bytes(2, "big") + frame[:-2]  # as the device knows it
        trick = self.chance.choice(_TRICKS) if self.chance.random() < self._often else _well
        self.rogue.tricks[trick.__name__.strip("_")] += 1
        trick(self, question)


def on_a_line(answer: bytes) -> bytes:
    return answer[DEVICE:] + checksum(answer[DEVICE:])


Trick = Callable[[RogueLine, bytes], None]


def _well(line: RogueLine, question: bytes) -> None:
    line.say(on_a_line(line.rogue.answer(question)))


def _late(line: RogueLine, question: bytes) -> None:
    answer = on_a_line(line.rogue.answer(question))
    line.rogue.later(lambda: line.say(answer))


def _lost(line: RogueLine, question: bytes) -> None:
    line.rogue.answer(question)


def _ignored(_line: RogueLine, _question: bytes) -> None:
    """Neither done nor answered."""


def _in_pieces(line: RogueLine, question: bytes) -> None:
    for byte in on_a_line(line.rogue.answer(question)):
        line.say(bytes([byte]))


def _bits_turned(line: RogueLine, question: bytes) -> None:
    """In an answer that would be another's, so that nobody could believe it by chance."""
    frame = int.from_bytes(on_a_line(line.rogue.answer_elsewhere(question)), "big")
    size = len(on_a_line(line.rogue.answer(question)))
    for bit in line.chance.sample(range(8 * size), line.chance.randint(1, 3)):
        frame ^= 1 << bit
    line.say(frame.to_bytes(size, "big"))


def _cut_short(line: RogueLine, question: bytes) -> None:
    answer = on_a_line(line.rogue.answer(question))
    line.say(answer[: line.chance.randrange(len(answer))])


def _noise_before(line: RogueLine, question: bytes) -> None:
    line.say(line.chance.randbytes(line.chance.randint(1, 4)) + on_a_line(line.rogue.answer(question)))


def _more_behind(line: RogueLine, question: bytes) -> None:
    line.say(on_a_line(line.rogue.answer(question)) + line.chance.randbytes(line.chance.randint(1, 20)))


def _another_device(line: RogueLine, question: bytes) -> None:
    answer = bytearray(line.rogue.answer_elsewhere(question))
    answer[8:10] = question[8:10] if answer[FUNCTION] in _WRITES else answer[8:10]
    answer[DEVICE] = (answer[DEVICE] + line.chance.randint(1, 254)) % 256
    line.say(on_a_line(bytes(answer)))


def _another_function(line: RogueLine, question: bytes) -> None:
    answer = bytearray(line.rogue.answer_elsewhere(question))
    answer[FUNCTION] = {3: 4, 4: 3, 6: 16, 16: 6}[answer[FUNCTION]]
    line.say(on_a_line(bytes(answer)))


def _elsewhere(line: RogueLine, question: bytes) -> None:
    rogue = line.rogue
    line.say(on_a_line(rogue.answer_elsewhere(question) if question[FUNCTION] in _WRITES else rogue.answer(question)))


def _exception(line: RogueLine, question: bytes) -> None:
    code = line.chance.randint(1, 11)
    line.rogue.excepted.add(code)
    line.say(on_a_line(framed(question, bytes([question[FUNCTION] | 0x80, code]))))


_TRICKS: list[Trick] = [
    _late,
    _lost,
    _ignored,
    _in_pieces,
    _bits_turned,
    _cut_short,
    _noise_before,
    _more_behind,
    _another_device,
    _another_function,
    _elsewhere,
    _exception,
]
LINE_TRICKS = {trick.__name__.strip("_") for trick in _TRICKS}
