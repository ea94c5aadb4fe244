"""From what a sensor gives to °C: DS18B20 words and frames, platinum resistors, thermistors.

Sources: Maxim DS18B20 data sheet, table 1; Maxim application note 27 (CRC-8); the Linux kernel's document of the
w1_therm driver; IEC 60751 (platinum); Steinhart & Hart 1968 (thermistors). The arithmetic is checked against the
tables, and not the other way round: one older sheet misprints a negative code.
"""

import math
import re
from collections.abc import Sequence

from fermwatch.errors import ProbeMisbehaving
from fermwatch.science.numeric import Number, log, newton, sqrt, within

DS18B20_LOW_C, DS18B20_HIGH_C = -55.0, 125.0
POWER_ON_C = 85.0

_CONFIG_BYTES = {0x1F, 0x3F, 0x5F, 0x7F}  # 9, 10, 11, 12 bits; all others mean a bus that lies
_CONVERSION_FAILED = 0x0C  # byte 6 while the register still holds the power-on value
_RESERVED = 6
_FRAME_BYTES = 9
_W1_LINES = re.compile(
    r"\s*((?:[0-9a-f]{2} ){9}): crc=([0-9a-f]{2}) (YES|NO)\s*\n\s*((?:[0-9a-f]{2} ){9})t=(-?\d{1,6})\s*",
    re.IGNORECASE | re.ASCII,
)

_PT_A, _PT_B, _PT_C = 3.9083e-3, -5.775e-7, -4.183e-12
_KELVIN_25 = 298.15
_ZERO_C = 273.15


def ds18b20_temperature_c(word: int, resolution_bits: int = 12) -> float:
    """Return °C of the 16-bit temperature register: two's complement in sixteenths.

    Below 12 bits the sensor leaves the lowest bits undefined; they are masked. Domain: words 0..FFFF whose value lies
    in -55..125 °C, 9..12 bits; OutOfDomain outside.
    """
    within(float(word), 0.0, 0xFFFF, quantity="DS18B20 word", unit="")
    within(float(resolution_bits), 9.0, 12.0, quantity="resolution", unit="bits")
    signed = word - 0x10000 if word & 0x8000 else word
    undefined = (1 << (12 - resolution_bits)) - 1
    return within((signed & ~undefined) / 16.0, DS18B20_LOW_C, DS18B20_HIGH_C, quantity="DS18B20", unit="°C")


def crc8_maxim(data: Sequence[int]) -> int:
    """Return the CRC-8 of 1-Wire: x^8 + x^5 + x^4 + 1, least significant bit first, start 0; fed family code first."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ (0x8C if crc & 1 else 0)
    return crc


def ds18b20_frame_c(frame: Sequence[int]) -> float:
    """Return °C of a scratchpad of nine bytes.

    Raises:
        ProbeMisbehaving: wrong length or CRC; a configuration byte that no sensor has (an all-zero frame has a good
            CRC); the power-on value 85 °C while the last byte but two says that no conversion was done.
    """
    if len(frame) != _FRAME_BYTES:
        raise ProbeMisbehaving(f"A DS18B20 frame has {_FRAME_BYTES} bytes, this one {len(frame)}.")
    if crc8_maxim(frame[:8]) != frame[8]:
        raise ProbeMisbehaving("DS18B20 frame with a wrong CRC.", hint="Check cable length, pull-up and supply.")
    if frame[4] not in _CONFIG_BYTES:
        raise ProbeMisbehaving("DS18B20 frame from a bus stuck low.", hint="Check for a short on the data line.")
    word = frame[0] | frame[1] << 8
    resolution_bits = 9 + (frame[4] >> 5)
    celsius = ds18b20_temperature_c(word, resolution_bits)
    if celsius == POWER_ON_C and frame[_RESERVED] == _CONVERSION_FAILED:
        raise ProbeMisbehaving("DS18B20 gave its power-on value of 85 °C.", hint="Its supply dips: check the wiring.")
    return celsius


def w1_slave_temperature_c(text: str) -> float:
    """Return °C of the kernel's `w1_slave` text, as the kernel rounds it (to 0.001, toward zero).

    Raises:
        ProbeMisbehaving: not such a text; `NO` (the second line then holds the value before); or a frame refused by
            `ds18b20_frame_c`.
    """
    match = _W1_LINES.fullmatch(text)
    if match is None:
        raise ProbeMisbehaving("Not the two lines that a 1-Wire thermometer gives.")
    first, crc, verdict, retained, millidegrees = match.groups()
    frame = bytes.fromhex(first)
    if verdict.upper() != "YES":
        raise ProbeMisbehaving("The kernel found a wrong CRC.", hint="Check cable length, pull-up and supply.")
    if int(crc, 16) != frame[8] or bytes.fromhex(retained) != frame:
        raise ProbeMisbehaving("The two lines of the 1-Wire thermometer do not agree.")
    celsius = int(millidegrees) / 1000.0
    if abs(celsius - ds18b20_frame_c(frame)) >= 1.0:
        raise ProbeMisbehaving("The 1-Wire thermometer's bytes and temperature do not agree.")
    return celsius


def pt_resistance_ohm(temperature_c: Number, r0_ohm: float = 100.0) -> Number:
    """Return the resistance of a platinum resistor (IEC 60751) of `r0_ohm` at 0 °C.

    Domain -200..850 °C, OutOfDomain outside.
    """
    within(temperature_c, -200.0, 850.0, quantity="temperature", unit="°C")
    return r0_ohm * _callendar_van_dusen(temperature_c)


def pt_temperature_c(resistance_ohm: Number, r0_ohm: float = 100.0) -> Number:
    """Return °C of a platinum resistor: the exact inverse of `pt_resistance_ohm`.

    Domain 0.1852..3.9048 of `r0_ohm` (-200..850 °C), OutOfDomain outside.
    """
    ratio = within(resistance_ohm / r0_ohm, 0.1852, 3.9049, quantity="resistance", unit="of that at 0 °C")

    def step(celsius: Number) -> tuple[Number, Number]:
        cold = 0.5 * (celsius - abs(celsius))  # zero above 0 °C
        bend = _PT_C * (cold * cold * (4.0 * cold - 300.0))
        return _callendar_van_dusen(celsius) - ratio, _PT_A + 2.0 * _PT_B * celsius + bend

    start = (-_PT_A + sqrt(_PT_A * _PT_A - 4.0 * _PT_B * (1.0 - ratio))) / (2.0 * _PT_B)
    return newton(start, step, steps=4)


def ntc_steinhart_temperature_c(resistance_ohm: Number, a: float, b: float, c: float) -> Number:
    """Return °C by Steinhart & Hart: 1/T = a + b ln R + c (ln R)^3. Prefer it to beta below 10 °C.

    Domain 1..1e7 ohm and a result of -80..200 °C, OutOfDomain outside.
    """
    within(resistance_ohm, 1.0, 1e7, quantity="resistance", unit="ohm")
    logarithm = log(resistance_ohm)
    return _plausible(1.0 / (a + b * logarithm + c * logarithm * logarithm * logarithm) - _ZERO_C)


def ntc_beta_temperature_c(resistance_ohm: Number, r25_ohm: float = 10_000.0, beta_k: float = 3950.0) -> Number:
    """Return °C by the beta equation: 0.7 °C off at 0 °C on common 10 kilohm parts.

    Domain 1..1e7 ohm and a result of -80..200 °C, OutOfDomain outside.
    """
    within(resistance_ohm, 1.0, 1e7, quantity="resistance", unit="ohm")
    return _plausible(1.0 / (1.0 / _KELVIN_25 + (log(resistance_ohm) - math.log(r25_ohm)) / beta_k) - _ZERO_C)


def _callendar_van_dusen(celsius: Number) -> Number:
    cold = 0.5 * (celsius - abs(celsius))
    return 1.0 + celsius * (_PT_A + _PT_B * celsius) + _PT_C * (cold - 100.0) * cold * cold * cold


def _plausible(celsius: Number) -> Number:
    return within(celsius, -80.0, 200.0, quantity="thermistor temperature", unit="°C")
