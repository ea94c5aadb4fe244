"""Bytes of the protocol's own examples (Modbus Application Protocol V1.1b3, section 6, from memory; the library that
encodes them agrees), and what is no answer."""

import random

import pytest

from fermwatch.errors import ProbeMisbehaving
from fermwatch_drivers.modbus.frames import (
    Function,
    ModbusException,
    Question,
    Read,
    Write,
    pdu_of,
    read_answer,
    rtu_body,
    rtu_length,
    rtu_question,
    tcp_length,
    tcp_question,
)

# The question's and the answer's PDU as section 6 prints them, and what the answer says.
EXAMPLES: list[tuple[str, Question, str, str, tuple[int, ...]]] = [
    (
        "6.1 read coils 20 to 38",
        Read(Function.COIL, 0x13, 0x13),
        "0100130013",
        "0103CD6B05",
        tuple(int(bit) for byte in (0xCD, 0x6B, 0x05) for bit in f"{byte:08b}"[::-1])[:19],
    ),
    (
        "6.2 read discrete inputs 197 to 218",
        Read(Function.DISCRETE, 0xC4, 0x16),
        "0200C40016",
        "0203ACDB35",
        tuple(int(bit) for byte in (0xAC, 0xDB, 0x35) for bit in f"{byte:08b}"[::-1])[:22],
    ),
    ("6.3 read registers 108 to 110", Read(Function.HOLDING, 0x6B, 3), "03006B0003", "0306022B00000064", (555, 0, 100)),
    ("6.4 read input register 9", Read(Function.INPUT, 8, 1), "0400080001", "0402000A", (10,)),
    ("6.5 write coil 173 on", Write(Function.COIL, 0xAC, (1,)), "0500ACFF00", "0500ACFF00", ()),
    ("6.6 write register 2", Write(Function.HOLDING, 1, (3,)), "0600010003", "0600010003", ()),
    (
        "6.11 write ten coils from 20",
        Write(Function.COIL, 0x13, (1, 0, 1, 1, 0, 0, 1, 1, 1, 0)),
        "0F0013000A02CD01",
        "0F0013000A",
        (),
    ),
    (
        "6.12 write two registers from 2",
        Write(Function.HOLDING, 1, (10, 258)),
        "100001000204000A0102",
        "1000010002",
        (),
    ),
]


@pytest.mark.parametrize(("question", "sent", "answered", "means"), [row[1:] for row in EXAMPLES])
def test_the_examples_of_the_protocol(question: Question, sent: str, answered: str, means: tuple[int, ...]) -> None:
    pdu = pdu_of(question)
    assert bytes([pdu.function_code]) + pdu.encode() == bytes.fromhex(sent)
    assert read_answer(question, 17, bytes([17]) + bytes.fromhex(answered)) == means


def test_a_question_over_tcp_carries_its_transaction_and_its_device() -> None:
    """Messaging on TCP/IP V1.0b, section 3.1.3: transaction, protocol 0, length, unit."""
    sent = tcp_question(Read(Function.HOLDING, 0x6B, 3), 17, 0x1501)
    assert sent == bytes.fromhex("1501 0000 0006 11 03006B0003")
    assert tcp_length(sent[:6]) == (0x1501, 6)


def test_a_question_on_a_serial_line_carries_its_checksum() -> None:
    """An example that many manuals print (from memory): 11 03 006B 0003 and its answer, each with its CRC."""
    question = Read(Function.HOLDING, 0x6B, 3)
    assert rtu_question(question, 17) == bytes.fromhex("1103006B00037687")
    answer = bytes.fromhex("110306AE415652434049AD")
    assert rtu_length(question, answer[:1]) is None
    assert rtu_length(question, answer) == len(answer)
    assert read_answer(question, 17, rtu_body(answer)) == (0xAE41, 0x5652, 0x4340)
    for at in range(8 * len(answer)):
        damaged = bytearray(answer)
        damaged[at // 8] ^= 1 << at % 8
        with pytest.raises(ProbeMisbehaving, match="checksum"):
            rtu_body(bytes(damaged))


def test_an_answer_on_a_serial_line_says_by_its_beginning_how_long_it_is() -> None:
    assert rtu_length(Read(Function.COIL, 0, 9), b"\x01\x01") == 7
    assert rtu_length(Write(Function.HOLDING, 0, (1, 2)), b"\x01\x10") == 8
    assert rtu_length(Read(Function.COIL, 0, 9), b"\x01\x81") == 5


@pytest.mark.parametrize("header", ["000100010006", "000100000002", "0001000000FF", "485454502F31"])
def test_what_is_no_modbus_over_tcp_is_found_out_by_its_beginning(header: str) -> None:
    with pytest.raises(ProbeMisbehaving, match="beginning of a Modbus answer"):
        tcp_length(bytes.fromhex(header))


@pytest.mark.parametrize(
    ("code", "words"), [(1, "illegal function"), (6, "device busy"), (0x0B, "gateway"), (99, "63")]
)
def test_an_exception_is_said_in_words(code: int, words: str) -> None:
    with pytest.raises(ModbusException, match=words) as said:
        read_answer(Read(Function.HOLDING, 0, 1), 1, bytes([1, 0x83, code]))
    assert said.value.code == code


@pytest.mark.parametrize("question", [row[1] for row in EXAMPLES])
def test_no_answer_to_another_question_is_taken_for_one(question: Question) -> None:
    for name, other, _, answered, _ in EXAMPLES:
        if other != question:
            with pytest.raises(ProbeMisbehaving):
                read_answer(question, 17, bytes([17]) + bytes.fromhex(answered))
        else:
            with pytest.raises(ProbeMisbehaving, match="another device"):
                read_answer(question, 18, bytes([17]) + bytes.fromhex(answered))
        assert name


def test_a_write_is_confirmed_by_nothing_but_its_own_echo() -> None:
    chance = random.Random(7)
    for _, question, _, answered, _ in EXAMPLES:
        if not isinstance(question, Write):
            continue
        body = bytearray(bytes([17]) + bytes.fromhex(answered))
        for _ in range(200):
            at, bit = chance.randrange(len(body)), 1 << chance.randrange(8)
            body[at] ^= bit
            with pytest.raises((ProbeMisbehaving, ModbusException)):
                read_answer(question, 17, bytes(body))
            body[at] ^= bit


def test_any_bytes_are_an_answer_an_exception_or_misbehaviour() -> None:
    chance = random.Random(11)
    for _ in range(20_000):
        question = chance.choice(EXAMPLES)[1]
        body = bytes([17, chance.choice([1, 2, 3, 4, 5, 6, 15, 16, 0x83])]) + chance.randbytes(chance.randint(1, 12))
        try:
            words = read_answer(question, 17, body)
        except (ProbeMisbehaving, ModbusException):
            continue
        assert len(words) == (question.count if isinstance(question, Read) else 0)
