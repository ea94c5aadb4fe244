"""Registers and bits to what they mean. Pure."""

import math
import struct
from collections.abc import Mapping

from fermwatch.errors import ProbeMisbehaving
from fermwatch.model.degree import Output
from fermwatch.model.quantity import Quantity
from fermwatch.units import to_canonical
from fermwatch_drivers.modbus.frames import Function
from fermwatch_drivers.modbus.register_map import BitPlace, NumberPlace, RegisterMap, TemperaturePlace

Words = Mapping[tuple[Function, int], int]  # what each register or bit that was read holds

_PACKED = {"int16": ">h", "uint16": ">H", "int32": ">i", "uint32": ">I", "float32": ">f"}


def number_at(place: NumberPlace, words: Words, word_order: str) -> float:
    """The number as it is written, before its scale. KeyError where it was not read."""
    registers = [words[place.function, place.address + at] for at in range(place.registers)]
    if word_order == "low-first":
        registers.reverse()
    packed = b"".join(register.to_bytes(2, "big") for register in registers)
    number: float = struct.unpack(_PACKED[place.type], packed)[0]
    return number


def temperature_c(place: TemperaturePlace, words: Words, kind: RegisterMap) -> float:
    """The temperature that it means. KeyError where it was not read.

    Raises ProbeMisbehaving for a sentinel, for what is no number, and for what cannot be true.
    """
    number = number_at(place, words, kind.word_order)
    if number in place.broken:
        raise ProbeMisbehaving("the controller says that its probe is broken or missing")
    if not math.isfinite(number):
        raise ProbeMisbehaving("not a finite number")
    value = number * place.scale
    if not place.low <= value <= place.high:
        raise ProbeMisbehaving(f"outside {place.low:g} to {place.high:g} {kind.unit}, which the map allows")
    # What 185 tenths mean is 18.5 and not 18.500000000000004: no more digits than a float of the device can hold.
    return round(to_canonical(value, kind.unit, Quantity.SET_POINT), 6)


def words_of(place: NumberPlace, value: float, word_order: str) -> tuple[int, ...]:
    """The registers that say this value, rounded to what they can say. ValueError where they cannot hold it."""
    number = value / place.scale
    try:
        packed = struct.pack(_PACKED[place.type], number if place.type == "float32" else round(number))
    except (struct.error, OverflowError) as error:
        raise ValueError(f"{value:g} does not fit into {place.type} in steps of {place.scale:g}") from error
    words = tuple(int.from_bytes(packed[at : at + 2], "big") for at in range(0, len(packed), 2))
    return words[::-1] if word_order == "low-first" else words


def is_on(place: BitPlace, words: Words) -> bool:
    """KeyError where it was not read."""
    word = words[place.function, place.address]
    return bool(word >> (place.bit or 0) & 1) is not place.inverted


def outputs_on(kind: RegisterMap, words: Words) -> frozenset[Output] | None:
    """The outputs that are on; None where one of them was not read."""
    try:
        return frozenset(output for output, place in kind.outputs.items() if is_on(place, words))
    except KeyError:
        return None
