"""Numbers as devices write them, with or without a unit: strict, because Python's own `float` takes far too much.

`float` accepts "nan", "1_0", "٣.٥" and " 19.5\\n" alike; a probe that says so did not measure anything.
"""

import math
import re
from typing import NamedTuple

from fermwatch.errors import ProbeMisbehaving
from fermwatch.model.quantity import Unit

TEXT_LIMIT = 64  # characters; longer is no number of a probe

# A digit on each side of the point: "19." is a number cut off. No two parts can match the same characters, so that
# matching is linear.
_QUANTITY = re.compile(r"([+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?) ?([^0-9 ].{0,15})?", re.DOTALL)

_UNIT_OF_SUFFIX = {
    "c": Unit.CELSIUS,
    "f": Unit.FAHRENHEIT,
    "k": Unit.KELVIN,
    "sg": Unit.SG,
    "points": Unit.POINTS,
    "p": Unit.PLATO,
    "plato": Unit.PLATO,
    "bx": Unit.BRIX,
    "brix": Unit.BRIX,
    "bar": Unit.BAR,
    "kpa": Unit.KILOPASCAL,
    "psi": Unit.PSI,
    "%": Unit.PERCENT,
}
_SWITCH = {"on": 1.0, "off": 0.0}


class DeviceNumber(NamedTuple):
    """A number, and its unit where the device said it."""

    value: float
    unit: Unit | None = None


def read_text(text: str) -> DeviceNumber:
    """The quantity that a text says, as "19.5", "66.2 F", "1.048 SG" or "on".

    Raises ProbeMisbehaving, whose message is the reason without the text itself.
    """
    text = text.strip(" \t\r\n")  # a shell's `echo` leaves a line end
    if len(text) > TEXT_LIMIT:
        raise ProbeMisbehaving("too long for a number")
    match = _QUANTITY.fullmatch(text)
    if match is None:
        if text.lower() in _SWITCH:
            return DeviceNumber(_SWITCH[text.lower()], Unit.SWITCH)
        raise ProbeMisbehaving("not a number" if text else "empty where a number is expected")
    number, suffix = match.groups()
    return DeviceNumber(_finite(float(number)), None if suffix is None else _unit(suffix))


def read_scalar(value: object) -> DeviceNumber:
    """The quantity that a JSON value says: a number, a text as in `read_text`, or true and false for a switch.

    Raises ProbeMisbehaving.
    """
    if isinstance(value, float):
        return DeviceNumber(_finite(value))
    if isinstance(value, bool):
        return DeviceNumber(float(value), Unit.SWITCH)
    if isinstance(value, int):
        return DeviceNumber(_finite(_as_float(value)))
    if isinstance(value, str):
        return read_text(value)
    raise ProbeMisbehaving("null where a number is expected" if value is None else "a list or an object, not a number")


def _unit(suffix: str) -> Unit:
    plain = suffix.lower().removeprefix("°").removeprefix("deg").strip()
    unit = _UNIT_OF_SUFFIX.get(plain)
    if unit is None:
        raise ProbeMisbehaving("a number with an unknown unit")
    return unit


def _as_float(value: int) -> float:
    try:
        return float(value)
    except OverflowError:
        return math.inf


def _finite(value: float) -> float:
    if not math.isfinite(value):
        raise ProbeMisbehaving("not a finite number")
    return value
