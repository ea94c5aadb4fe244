"""Which questions show all that a map knows, and what their answers say. Pure."""

import math
from collections.abc import Iterable
from datetime import datetime

from fermwatch.contracts.controller import Seen
from fermwatch.errors import ProbeMisbehaving
from fermwatch_drivers.hearing import Heard
from fermwatch_drivers.modbus.frames import MOST_BITS, MOST_REGISTERS, Read
from fermwatch_drivers.modbus.register_map import RegisterMap, TemperaturePlace
from fermwatch_drivers.modbus.registers import Words, is_on, number_at, outputs_on, temperature_c


def questions_of(kind: RegisterMap) -> tuple[Read, ...]:
    """As few questions as read all of it: what follows each other is asked at once, and no gap is ever read."""
    numbers = [place.read for place in (kind.measured, kind.set_point, kind.dead_man) if place is not None]
    return joined([*numbers, *(bit.read for bit in (*kind.outputs.values(), *kind.alarms.values()))])


def joined(reads: Iterable[Read]) -> tuple[Read, ...]:
    """The same registers and bits, in as few reads as the protocol's longest answer allows."""
    together: list[Read] = []
    for read in sorted(reads, key=lambda one: (one.function, one.address, -one.count)):
        if together and (longer := _one_of(together[-1], read)) is not None:
            together[-1] = longer
        else:
            together.append(read)
    return tuple(together)


def _one_of(first: Read, second: Read) -> Read | None:
    """Both in one, where the second begins within the first or right behind it; None where that cannot be asked."""
    count = max(first.count, second.address + second.count - first.address)
    most = MOST_BITS if first.function.is_bits else MOST_REGISTERS
    if first.function is not second.function or second.address > first.address + first.count or count > most:
        return None
    return Read(first.function, first.address, count)


def shown(kind: RegisterMap, words: Words, at: datetime, heard: Heard) -> Seen:
    """What the device showed, in so far as it was read; what it showed but did not measure is rejected."""
    return Seen(
        at,
        measured_c=_temperature(kind, "measured", kind.measured, words, heard),
        set_point_c=_temperature(kind, "set-point", kind.set_point, words, heard),
        on=outputs_on(kind, words) if kind.outputs else None,
        dead_man_s=_dead_man_s(kind, words),
        alarms=frozenset(
            name
            for name, place in kind.alarms.items()
            if (place.function, place.address) in words and is_on(place, words)
        ),
    )


def _temperature(
    kind: RegisterMap, channel: str, place: TemperaturePlace | None, words: Words, heard: Heard
) -> float | None:
    if place is None or any((place.function, place.address + at) not in words for at in range(place.registers)):
        return None
    try:
        return temperature_c(place, words, kind)
    except ProbeMisbehaving as error:
        heard.reject(error.message, f"{number_at(place, words, kind.word_order):g}", channel)
        return None


def _dead_man_s(kind: RegisterMap, words: Words) -> float | None:
    place = kind.dead_man
    if place is None or any((place.function, place.address + at) not in words for at in range(place.registers)):
        return None
    seconds = number_at(place, words, kind.word_order) * place.scale
    return seconds if math.isfinite(seconds) else None
