"""What Linux shows of a thermometer on a 1-Wire bus, its file `w1_slave`: the nine bytes of its scratchpad twice,
whether their checksum held, and a number (kernel documentation, w1_therm).

    72 01 4b 46 7f ff 0e 10 57 : crc=57 YES
    72 01 4b 46 7f ff 0e 10 57 t=23125

The second line is what was read last that held: after NO it is an old reading. The layout of the bytes and what they
hold at power-on are those of the DS18B20 data sheet (tables 1 and 2, figure 7); the checksum is Maxim's application
note 27: x^8 + x^5 + x^4 + 1, low bit first.
"""

import re
from collections.abc import Iterable

FAMILIES = {
    0x10: "DS18S20",
    0x22: "DS1822",
    0x28: "DS18B20",
    0x3B: "DS1825",
    0x42: "DS28EA00",
}
WITH_PINS = 0x3B  # the low half of whose configuration byte is the level of its address pins (its data sheet)
COARSE = 0x10  # its number is reckoned by the kernel from a count that remains
BITS_OF = {0x1F: 9, 0x3F: 10, 0x5F: 11, 0x7F: 12}  # of the temperature, by the configuration byte
POWER_ON = 85.0
NOT_MEASURED = 0x0C  # of byte 6, as it is before the first conversion
LOWEST_C, HIGHEST_C = -55.0, 125.0
_FIRST = re.compile(r"((?:[0-9a-f]{2} ){9}): crc=([0-9a-f]{2}) (YES|NO)")
_SECOND = re.compile(r"((?:[0-9a-f]{2} ){9})t=(-?\d{1,7})")


class NotMeasured(Exception):
    """Why what stands there is no temperature, for a person."""


def temperature_c(family: int, text: str) -> float:
    """°C. Raises NotMeasured: nothing there is ever taken that was not measured just now."""
    first, _, second = text.partition("\n")
    read = _FIRST.fullmatch(first.strip())
    if read is None:
        raise NotMeasured("it is no scratchpad")
    if read[3] != "YES":
        raise NotMeasured("damaged on the bus")
    scratchpad = bytes.fromhex(read[1])
    _check(family, scratchpad)
    kept = _SECOND.fullmatch(second.strip())
    if kept is None or bytes.fromhex(kept[1]) != scratchpad:
        raise NotMeasured("an old reading, kept by the system")
    celsius = int(kept[2]) / 1000.0 if family == COARSE else _celsius(family, scratchpad)
    if not LOWEST_C <= celsius <= HIGHEST_C:
        raise NotMeasured(f"{celsius:g} °C is beyond what it can measure")
    if celsius == POWER_ON and scratchpad[6] == NOT_MEASURED:
        raise NotMeasured("85 °C, which it says before it has measured")
    return celsius


def _check(family: int, scratchpad: bytes) -> None:
    if crc8(scratchpad[:8]) != scratchpad[8]:
        raise NotMeasured("damaged on the bus")
    if not any(scratchpad):
        raise NotMeasured("the bus is held low: a short circuit, or a pull-up resistor is missing")
    if family != COARSE and _configured(family, scratchpad) not in BITS_OF:
        raise NotMeasured("no thermometer's scratchpad")


def _configured(family: int, scratchpad: bytes) -> int:
    return scratchpad[4] | 0x0F if family == WITH_PINS else scratchpad[4]


def _celsius(family: int, scratchpad: bytes) -> float:
    """Sixteenths, of which those below its resolution are not defined."""
    undefined = 12 - BITS_OF[_configured(family, scratchpad)]
    sixteenths = int.from_bytes(scratchpad[:2], "little", signed=True)
    return (sixteenths >> undefined << undefined) / 16.0


def crc8(data: Iterable[int]) -> int:
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0x8C if crc & 1 else 0)
    return crc
