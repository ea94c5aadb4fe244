"""Modbus questions and answers as bytes (Application Protocol V1.1b3), alone in knowing the library that does it.

What comes back is an answer only where device, function, length and, of a write, address and value are those of the
question: the library checks none of these. It never sees a wire: who asks whom and when is ours.
"""

import logging
from dataclasses import dataclass
from enum import StrEnum

from pymodbus.framer import FramerRTU, FramerSocket
from pymodbus.pdu import DecodePDU, ModbusPDU
from pymodbus.pdu.bit_message import (
    ReadCoilsRequest,
    ReadDiscreteInputsRequest,
    WriteMultipleCoilsRequest,
    WriteSingleCoilRequest,
)
from pymodbus.pdu.register_message import (
    ReadHoldingRegistersRequest,
    ReadInputRegistersRequest,
    WriteMultipleRegistersRequest,
    WriteSingleRegisterRequest,
)

from fermwatch.errors import ProbeMisbehaving

logging.getLogger("pymodbus.logging").setLevel(logging.CRITICAL + 1)  # what it says, our errors say better

_EXCEPTION = 0x80  # set in the function code of an answer that is an exception
_HEADER = 7  # bytes of the MBAP header (Messaging on TCP/IP V1.0b, section 3.1.3)
_LONGEST = 254  # bytes of device and PDU together
_RTU_EXCEPTION, _RTU_WRITTEN = 5, 8  # bytes of an exception, and of a write's confirmation, on a serial line
_RTU_AROUND = 5  # bytes around what was read: device, function, length, checksum
MOST_REGISTERS = 125  # that one question reads
MOST_BITS = 2000


class Function(StrEnum):
    """The four tables of a Modbus device, by what they hold."""

    COIL = "coil"  # bits, read and written
    DISCRETE = "discrete"  # bits, read only
    HOLDING = "holding"  # registers of 16 bits, read and written
    INPUT = "input"  # registers, read only

    @property
    def is_bits(self) -> bool:
        return self in {Function.COIL, Function.DISCRETE}


_READS: dict[Function, type[ModbusPDU]] = {
    Function.COIL: ReadCoilsRequest,
    Function.DISCRETE: ReadDiscreteInputsRequest,
    Function.HOLDING: ReadHoldingRegistersRequest,
    Function.INPUT: ReadInputRegistersRequest,
}

# Section 7 of the Application Protocol.
_MEANINGS = {
    1: "illegal function",
    2: "illegal data address",
    3: "illegal data value",
    4: "device failure",
    5: "acknowledged, not done yet",
    6: "device busy",
    7: "not done",
    8: "memory parity error",
    10: "gateway path unavailable",
    11: "gateway: no answer of the device",
}


@dataclass(frozen=True, slots=True)
class Read:
    """Registers or bits that follow each other."""

    function: Function
    address: int
    count: int

    def __str__(self) -> str:
        last = self.address + self.count - 1
        return f"{self.function} {self.address}" + (f" to {last}" if last > self.address else "")


@dataclass(frozen=True, slots=True)
class Write:
    """Holding registers or coils that follow each other, written at once: all of them or none."""

    function: Function
    address: int
    words: tuple[int, ...]

    def __str__(self) -> str:
        return str(Read(self.function, self.address, len(self.words)))


Question = Read | Write


class ModbusException(Exception):
    """An answer that is an exception: what the device says of the question. Its text is one clean line."""

    def __init__(self, code: int) -> None:
        super().__init__(f"exception {code:02X}, {_MEANINGS.get(code, 'of a meaning that is not known')}")
        self.code = code


def pdu_of(question: Question) -> ModbusPDU:
    """The question in the library's words."""
    if isinstance(question, Read):
        return _READS[question.function](address=question.address, count=question.count)
    if question.function is Function.COIL:
        bits = [bool(word) for word in question.words]
        kind = WriteSingleCoilRequest if len(bits) == 1 else WriteMultipleCoilsRequest
        return kind(address=question.address, bits=bits)
    if question.function is not Function.HOLDING:
        raise ValueError(f"{question.function} cannot be written")
    if len(question.words) == 1:
        return WriteSingleRegisterRequest(address=question.address, registers=list(question.words))
    return WriteMultipleRegistersRequest(address=question.address, registers=list(question.words))


def tcp_question(question: Question, device_id: int, transaction: int) -> bytes:
    """The question as it is sent over TCP."""
    pdu = pdu_of(question)
    pdu.dev_id, pdu.transaction_id = device_id, transaction
    return _TCP.buildFrame(pdu)


def tcp_length(header: bytes) -> tuple[int, int]:
    """An answer's transaction, and how many bytes follow the first six of it.

    Raises ProbeMisbehaving where these are not Modbus: nothing that follows can then be made out.
    """
    transaction, protocol, length = (int.from_bytes(header[at : at + 2], "big") for at in (0, 2, 4))
    if protocol != 0 or not 3 <= length <= _LONGEST:
        raise ProbeMisbehaving("not the beginning of a Modbus answer")
    return transaction, length


def rtu_question(question: Question, device_id: int) -> bytes:
    """The question as it is sent on a serial line, with its checksum."""
    pdu = pdu_of(question)
    pdu.dev_id = device_id
    return _RTU.buildFrame(pdu)


def rtu_length(question: Question, heard: bytes) -> int | None:
    """How many bytes the answer has that begins so; None while that is not known."""
    if len(heard) < 2:
        return None
    if heard[1] & _EXCEPTION:
        return _RTU_EXCEPTION
    return _RTU_WRITTEN if isinstance(question, Write) else _RTU_AROUND + _octets(question)


def rtu_body(frame: bytes) -> bytes:
    """Device and PDU of a whole frame. Raises ProbeMisbehaving where its checksum is not right."""
    body, checksum = frame[:-2], int.from_bytes(frame[-2:], "big")
    if not FramerRTU.check_CRC(body, checksum):
        raise ProbeMisbehaving("an answer whose checksum is not right")
    return body


def _octets(question: Read) -> int:
    """Bytes that hold what is asked for."""
    return (question.count + 7) // 8 if question.function.is_bits else 2 * question.count


def read_answer(question: Question, device_id: int, body: bytes) -> tuple[int, ...]:
    """The registers or bits that were asked for; none of a write that was taken. body: device and PDU.

    Raises ModbusException where the device says one, ProbeMisbehaving for what is no answer to this question.
    """
    asked, pdu = pdu_of(question), body[1:]
    if body[0] != device_id:
        raise ProbeMisbehaving("an answer of another device")
    if pdu[0] == asked.function_code | _EXCEPTION and len(pdu) == 2:
        raise ModbusException(pdu[1])
    if pdu[0] != asked.function_code:
        raise ProbeMisbehaving("an answer to another kind of question")
    if isinstance(question, Write):
        _must_echo(asked, question, pdu)
        return ()
    octets = _octets(question)
    if len(pdu) != 2 + octets or pdu[1] != octets:
        raise ProbeMisbehaving("an answer of another length than was asked for")
    said = _DECODER.decode(pdu)
    if said is None:
        raise ProbeMisbehaving("an answer that cannot be read")
    words = said.bits if question.function.is_bits else said.registers
    return tuple(int(word) for word in words[: question.count])


def _must_echo(asked: ModbusPDU, question: Write, pdu: bytes) -> None:
    """A device that took a write repeats the address, and the value or how many: another echo confirms nothing."""
    echo = asked.encode()[:4]
    if len(question.words) > 1:
        echo = question.address.to_bytes(2, "big") + len(question.words).to_bytes(2, "big")
    if pdu[1:] != echo:
        raise ProbeMisbehaving("a confirmation of another write")


_DECODER = DecodePDU(False)
_TCP, _RTU = FramerSocket(_DECODER), FramerRTU(_DECODER)
