"""What is a temperature on a 1-Wire bus, and what only looks like one."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch_drivers.one_wire.scratchpad import NotMeasured, crc8, temperature_c
from fermwatch_sim.one_wire import checksum, scratchpad, shown

DS18B20, DS18S20 = 0x28, 0x10
KERNELS_OWN = "72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n72 01 4b 46 7f ff 0e 10 57 t=23125\n"  # its documentation


def test_the_kernels_own_example() -> None:
    assert temperature_c(DS18B20, KERNELS_OWN) == 23.125


# The data sheet's table 1; sixteenths by arithmetic, since one printing of it has a negative code wrong.
@pytest.mark.parametrize(
    ("code", "celsius"),
    [
        (0x07D0, 125.0),
        (0x0191, 25.0625),
        (0x00A2, 10.125),
        (0x0008, 0.5),
        (0x0000, 0.0),
        (-0x0008, -0.5),
        (-0x00A2, -10.125),
        (-0x0191, -25.0625),
        (-0x0370, -55.0),
    ],
)
def test_the_data_sheets_table(code: int, celsius: float) -> None:
    assert temperature_c(DS18B20, shown(scratchpad(code))) == celsius


def test_the_application_notes_checksum() -> None:
    assert crc8(bytes.fromhex("021cb801000000")) == 0xA2


@given(st.binary(max_size=16))
def test_both_ways_to_reckon_it_agree(data: bytes) -> None:
    assert crc8(data) == checksum(data)


@pytest.mark.parametrize(("configuration", "celsius"), [(0x7F, 25.4375), (0x5F, 25.375), (0x3F, 25.25), (0x1F, 25.0)])
def test_bits_below_its_resolution_count_for_nothing(configuration: int, celsius: float) -> None:
    assert temperature_c(DS18B20, shown(scratchpad(0x0197, configuration=configuration))) == celsius


def test_one_with_address_pins_shows_them_in_its_configuration() -> None:
    """Data sheet of the DS1825: the low half of that byte is AD3 to AD0 (from memory)."""
    for pins in range(16):
        assert temperature_c(0x3B, shown(scratchpad(0x0197, configuration=0x50 | pins))) == 25.375
    with pytest.raises(NotMeasured, match="no thermometer's"):
        temperature_c(0x3B, shown(scratchpad(0x0197, configuration=0xF5)))


GOOD, OLD = scratchpad(312), scratchpad(336)
HELD_LOW, HELD_HIGH = bytes(9), b"\xff" * 9
WRONG = {
    "damaged, as the kernel says": (shown(GOOD, kept=OLD, holds=False), "damaged on the bus"),
    "damaged, whatever the kernel says": (shown(GOOD[:8] + b"\x00"), "damaged on the bus"),
    "held low": (shown(HELD_LOW), "held low"),
    "held high": (shown(HELD_HIGH), "damaged on the bus"),
    "kept from before": (shown(GOOD, kept=OLD), "an old reading"),
    "power-on": (shown(scratchpad(0x0550, reserved=0x0C)), "before it has measured"),
    "not a thermometer's": (shown(scratchpad(312, configuration=0x55)), "no thermometer's"),
    "beyond what it can": (shown(scratchpad(-127 * 16)), "beyond what it can measure"),
    "nothing": ("", "no scratchpad"),
    "half of it": (KERNELS_OWN[:40], "an old reading"),
    "nonsense": ("\x1b[2Jt=19500\n", "no scratchpad"),
}


@pytest.mark.parametrize(("text", "why"), WRONG.values(), ids=WRONG.keys())
def test_what_was_not_measured_just_now_is_no_reading(text: str, why: str) -> None:
    with pytest.raises(NotMeasured, match=why):
        temperature_c(DS18B20, text)


def test_a_genuine_85_is_one() -> None:
    assert temperature_c(DS18B20, shown(scratchpad(0x0550, reserved=0x10))) == 85.0


def test_of_the_older_kind_the_kernel_reckons_the_number() -> None:
    eight = bytes([0x32, 0x00, 0x4B, 0x46, 0xFF, 0xFF, 0x0C, 0x10])
    read = eight + bytes([checksum(eight)])
    text = f"{read.hex(' ')} : crc={read[8]:02x} YES\n{read.hex(' ')} t=25000\n"
    assert temperature_c(DS18S20, text) == 25.0
    with pytest.raises(NotMeasured, match="held low"):
        temperature_c(DS18S20, shown(HELD_LOW))


@given(st.text(max_size=200) | st.binary(max_size=200).map(lambda data: data.decode("latin-1")))
def test_whatever_stands_there_is_a_temperature_or_a_reason(text: str) -> None:
    try:
        found = temperature_c(DS18B20, text)
    except NotMeasured:
        return
    assert -55.0 <= found <= 125.0


@given(st.integers(0, 71), st.integers(0, 2), st.integers(-880, 2000))
def test_no_flipped_bit_is_ever_another_temperature(bit: int, line: int, sixteenths: int) -> None:
    """Of the scratchpad, in either line or both: the checksum finds every single one."""
    good = scratchpad(sixteenths)
    flipped = bytearray(good)
    flipped[bit // 8] ^= 1 << bit % 8
    spoilt = bytes(flipped)
    text = [shown(spoilt, kept=good), shown(good, kept=spoilt), shown(spoilt)][line]
    with pytest.raises(NotMeasured):
        temperature_c(DS18B20, text)
