"""A line or a message of a device that nobody configured: its format, its numbers, and what names them."""

import random

import pytest

from fermwatch.clock import EPOCH
from fermwatch.model.quantity import Unit
from fermwatch_drivers.hearing import Heard
from fermwatch_drivers.overhearing.lines import looks_like_text, read_line
from fermwatch_drivers.overhearing.messages import read_message
from fermwatch_drivers.serial_line.formats import reader_for
from fermwatch_drivers.serial_line.options import SerialLineOptions

LINES = [
    (b'{"t1": 19.4, "deep": {"g": 1.048}, "up": 3}', {"t1": 19.4, "/deep/g": 1.048, "up": 3.0}, "json"),
    (b"t1=19.4 g = 1.048 SG", {"t1": 19.4, "g": 1.048}, "pairs"),
    (b"19.4", {"value": 19.4}, "number"),
    (b"66.2 F", {"value": 66.2}, "number"),
    (b"19.4;1.048", {"1": 19.4, "2": 1.048}, "columns"),
    (b"T1: 19.4 C", {"2": 19.4}, "columns"),
]


@pytest.mark.parametrize(("line", "said", "form"), LINES)
def test_the_driver_reads_it_as_it_was_overheard(line: bytes, said: dict[str, float], form: str) -> None:
    found = read_line(line)
    assert found is not None
    assert {field.channel: field.value for field in found.fields} == said
    assert dict(found.settings)["format"] == form
    options = SerialLineOptions.model_validate({"port": "port", **dict(found.settings)})
    heard = Heard()
    reader_for("board", options, [field.channel for field in found.fields]).read(line, EPOCH, heard)
    assert {one.channel: one.value for one in heard.readings} == said


def test_units_are_found_with_the_number_beside_it_and_behind_it() -> None:
    def units(line: bytes) -> list[tuple[Unit | None, Unit | None]]:
        found = read_line(line)
        assert found is not None
        return [(field.unit, field.unit_beside) for field in found.fields]

    assert units(b'{"temp": 66.2, "unit": "F"}') == [(None, Unit.FAHRENHEIT)]
    assert units(b'{"temp": 66.2, "gravity": 1.048, "temp_unit": "F"}') == [(None, Unit.FAHRENHEIT), (None, None)]
    assert units(b'{"a": {"temp": 19.1, "unit": "C"}, "g": 1.01}') == [(None, Unit.CELSIUS), (None, None)]
    assert units(b"T1: 19.4 C") == [(None, Unit.CELSIUS)]
    assert units(b"t=19.4C") == [(Unit.CELSIUS, None)]


@pytest.mark.parametrize("line", [b"hello", b"", b"{", b"\xff\xfe", b"ready ok", b"t=", b"nan", b"1e999"])
def test_what_has_no_number_is_nothing(line: bytes) -> None:
    assert read_line(line) is None


def test_a_wrong_speed_does_not_look_like_text() -> None:
    noise = random.Random(7)
    assert looks_like_text(b"t1=19.4\r\nt1=19.5\r\n")
    assert looks_like_text("Temperatur: 19,4 °C\n".encode())
    assert not looks_like_text(bytes(noise.randrange(256) for _ in range(60)))
    assert not looks_like_text(b"\x00" * 40)
    assert not looks_like_text(b"")


def test_a_message_is_a_number_or_json() -> None:
    assert [(one.channel, one.value) for one in read_message("a/b", b"19.4 C\n")[1]] == [("", 19.4)]
    kind, fields = read_message("a/b", b'{"g": 1.048, "odd key": {"t/1": 19}}')
    assert kind == "json"
    assert {one.channel: one.value for one in fields} == {"#/g": 1.048, "#/odd%20key/t~11": 19.0}
    assert fields[0].name == "a/b/g"


@pytest.mark.parametrize("payload", [b"", b"on fire", b"\xff", b"[" * 100_000, b'{"a": NaN}', b"9" * 70_000])
def test_a_hostile_message_says_nothing(payload: bytes) -> None:
    assert read_message("a", payload)[1] == ()
