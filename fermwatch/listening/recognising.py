"""What a number that a device says is likely to be, by its name, its unit and its values, and why. Pure.

Words and spans are common practice; the spans are those by which a reading's unit is doubted later on.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from fermwatch.model.believable import POWER_ON_CODES_C, USUAL
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.units import units_of

_WORD = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|[0-9]+|[^\W\d_]+")

_TEMPERATURE = {"temp", "temps", "temperature", "tmp", "t", "celsius", "fahrenheit", "kelvin", "thermo", "therm"}
_TEMPERATURE |= {"degc", "degf", "tc", "tf"}
_GRAVITY = {"gravity", "grav", "sg", "plato", "brix", "bx", "density", "gravities", "g"}
_PRESSURE = {"pressure", "press", "psi", "bar", "kpa", "mbar"}
_OUTPUT = {"output", "relay", "heat", "heater", "heating", "cool", "cooler", "cooling", "compressor", "out"}
_CONTACT = {"door", "lid", "contact", "switch", "alarm"}
_SET_POINT = {"setpoint", "target", "sp", "goal"}
# Where a temperature is taken. A word that only names a place of the house tells neither.
_AIR = {"air", "ambient", "room", "fridge", "chamber", "outside", "freezer"}
_BEER = {"beer", "wort", "well", "thermowell"}
# What devices say of themselves, and no probe measures.
_OF_THE_DEVICE = {"battery", "batt", "volt", "volts", "voltage", "rssi", "signal", "snr", "lqi", "quality", "angle"}
_OF_THE_DEVICE |= {"tilt", "roll", "humidity", "hum", "rh", "uptime", "heap", "time", "ts", "timestamp", "date", "seq"}
_OF_THE_DEVICE |= {"count", "counter", "id", "interval", "version", "millis", "ms", "lux", "channel", "error", "errors"}
_UNIT_WORDS = {
    "c": Unit.CELSIUS,
    "celsius": Unit.CELSIUS,
    "degc": Unit.CELSIUS,
    "tc": Unit.CELSIUS,
    "f": Unit.FAHRENHEIT,
    "fahrenheit": Unit.FAHRENHEIT,
    "degf": Unit.FAHRENHEIT,
    "tf": Unit.FAHRENHEIT,
    "k": Unit.KELVIN,
    "kelvin": Unit.KELVIN,
    "sg": Unit.SG,
    "plato": Unit.PLATO,
    "brix": Unit.BRIX,
    "bx": Unit.BRIX,
    "points": Unit.POINTS,
    "psi": Unit.PSI,
    "kpa": Unit.KILOPASCAL,
    "bar": Unit.BAR,
}
_TEMPERATURE_UNITS = (Unit.CELSIUS, Unit.FAHRENHEIT, Unit.KELVIN)
_DOUBTFUL_C = 32.0  # from here on to 45 a beer is as likely said in °F
_LOST_POINT = (985.0, 1170.0)


@dataclass(frozen=True, slots=True)
class Likely:
    """quantity: what it is likely to be, in `unit`. sure: nothing else fits. why: one sentence without its full stop.

    where_unsure: a temperature whose name does not tell whether it is the beer's or the air's.
    """

    quantity: Quantity
    unit: Unit
    sure: bool
    why: str
    where_unsure: bool = False


@dataclass(frozen=True, slots=True)
class Recognised:
    """The likely one first; none where it is nothing that is known, and then the remark says what it looks like."""

    likely: tuple[Likely, ...] = ()
    remark: str = ""


@dataclass(frozen=True, slots=True)
class _Heard:
    words: tuple[str, ...]
    values: tuple[float, ...]
    unit: Unit | None  # as said with the number, or beside it
    unit_why: str

    @property
    def span(self) -> str:
        low, high = min(self.values), max(self.values)
        return f"{low:.6g}" if low == high else f"{low:.6g} to {high:.6g}"

    def fits(self, unit: Unit) -> bool:
        return _fit(self.values, unit)


def _fit(values: Sequence[float], unit: Unit) -> bool:
    low, high = USUAL.get(unit, (-math.inf, math.inf))
    return all(low <= value <= high for value in values)


def recognise(name: str, values: Sequence[float], unit: Unit | None, unit_beside: Unit | None) -> Recognised:
    """What these values of one channel are likely to be. unit, unit_beside: as in `SaidField`."""
    words = tuple(found.lower() for found in _WORD.findall(name))
    measured = tuple(value for value in values if value not in POWER_ON_CODES_C)
    said = unit or unit_beside
    why = "says its unit" if unit else "another field names its unit" if unit_beside else ""
    if not measured:
        return Recognised(remark="85 and -127 mean that no thermometer is connected")
    if said is None and (named := _unit_in(words)) is not None and _fit(measured, named):
        said, why = named, f'"{words[-1]}" in its name is a unit'
    heard = _Heard(words, measured, said, why)
    if said is not None:
        return _by_unit(heard)
    named_as = (found for word in reversed(words) if (found := _kind(word)))
    kind = "set-point" if _is_set_point(words) else next(named_as, "")
    if kind == "device":
        return Recognised(remark="what the device says of itself")
    return _BY_KIND.get(kind, _by_value)(heard)


def _unit_in(words: Sequence[str]) -> Unit | None:
    """The last word of a name that has another: a channel called "c" or "p" says nothing of a unit."""
    if not words or (len(words) == 1 and len(words[0]) == 1):
        return None
    return _UNIT_WORDS.get(words[-1])


def _is_set_point(words: Sequence[str]) -> bool:
    return bool(set(words) & _SET_POINT) or {"set", "point"} <= set(words)


def _kind(word: str) -> str:
    kinds = (
        ("device", _OF_THE_DEVICE),
        ("temperature", _TEMPERATURE),
        ("gravity", _GRAVITY),
        ("pressure", _PRESSURE),
        ("output", _OUTPUT),
        ("contact", _CONTACT),
    )
    return next((kind for kind, known in kinds if word in known), "")


def _by_unit(heard: _Heard) -> Recognised:
    unit = heard.unit or Unit.CELSIUS
    if unit in {Unit.SWITCH, Unit.FRACTION}:
        quantity = Quantity.CONTACT if set(heard.words) & _CONTACT else Quantity.OUTPUT
        why = "is on or off" if unit is Unit.SWITCH else heard.unit_why
        return Recognised((Likely(quantity, unit, sure=False, why=why),))
    if unit is Unit.PERCENT:
        output = bool(set(heard.words) & _OUTPUT)
        found = (Likely(Quantity.OUTPUT, unit, sure=False, why="is a share, and named as an output"),)
        return Recognised(found) if output else Recognised(remark="a share of something, as humidity or a battery")
    if unit in _TEMPERATURE_UNITS:
        odd = "" if heard.fits(unit) else f", although {heard.span} is unusual for beer"
        return Recognised((_temperature(heard, unit, sure=not odd, why=f"{heard.unit_why}{odd}"),))
    quantity = Quantity.GRAVITY if unit in units_of(Quantity.GRAVITY) else Quantity.PRESSURE
    return Recognised((Likely(quantity, unit, heard.fits(unit), heard.unit_why),))


def _temperature(heard: _Heard, unit: Unit, *, sure: bool, why: str) -> Likely:
    if _is_set_point(heard.words):
        return Likely(Quantity.SET_POINT, unit, sure, why)
    place = next((word for word in reversed(heard.words) if word in _AIR | _BEER), "")
    quantity = Quantity.AIR_TEMPERATURE if place in _AIR else Quantity.BEER_TEMPERATURE
    where = f', "{place}" tells where' if place and f'"{place}"' not in why else ""
    return Likely(quantity, unit, sure, f"{why}{where}", where_unsure=not place)


def _as_temperature(heard: _Heard) -> Recognised:
    return _temperatures(heard, "its name tells of a temperature")


def _temperatures(heard: _Heard, named: str, *, sure: bool = True) -> Recognised:
    fitting = [unit for unit in _TEMPERATURE_UNITS if heard.fits(unit)]
    if not fitting:
        low_tenths = all(-25.0 <= value / 10.0 <= 45.0 for value in heard.values)
        tenths = "; is it in tenths? fermwatch wants the number itself" if low_tenths else ""
        return Recognised(remark=f"{heard.span} is no temperature of beer in °C, °F or K{tenths}")
    if len(fitting) == 1:
        why = f"{named}, and {heard.span} fits {fitting[0]} alone"
        return Recognised((_temperature(heard, fitting[0], sure=sure, why=why),))
    if max(heard.values) >= _DOUBTFUL_C:
        fitting.reverse()
    why = f"{named}, and {heard.span} fits {' and '.join(fitting)}"
    return Recognised(tuple(_temperature(heard, unit, sure=False, why=why) for unit in fitting))


def _as_gravity(heard: _Heard) -> Recognised:
    return _gravities(heard, "its name tells of a gravity")


def _gravities(heard: _Heard, named: str) -> Recognised:
    if heard.fits(Unit.SG):
        why = f"{named}, and {heard.span} fits SG"
        return Recognised((Likely(Quantity.GRAVITY, Unit.SG, sure=True, why=why),))
    if all(_LOST_POINT[0] <= value <= _LOST_POINT[1] for value in heard.values):
        return Recognised(
            remark=f"{heard.span} looks like SG without its decimal point: let the device say 1.048, or 48 as points"
        )
    fitting = [unit for unit in (Unit.PLATO, Unit.POINTS) if heard.fits(unit)]
    if not fitting:
        return Recognised(remark=f"{heard.span} is no gravity of beer in SG, °P or points")
    sure = len(fitting) == 1
    why = f"{named}, and {heard.span} fits {' and '.join(fitting)}{' alone' if sure else ''}"
    return Recognised(tuple(Likely(Quantity.GRAVITY, unit, sure, why) for unit in fitting))


def _as_pressure(heard: _Heard) -> Recognised:
    units = [Unit.BAR, Unit.PSI, Unit.KILOPASCAL]
    if max(heard.values) > 6.0:
        units = units[1:]
    why = "its name tells of a pressure; which unit, its device's manual says"
    return Recognised(tuple(Likely(Quantity.PRESSURE, unit, sure=False, why=why) for unit in units))


def _as_output(heard: _Heard) -> Recognised:
    return _switched(heard, Quantity.OUTPUT, "an output")


def _as_contact(heard: _Heard) -> Recognised:
    return _switched(heard, Quantity.CONTACT, "a contact")


def _switched(heard: _Heard, quantity: Quantity, noun: str) -> Recognised:
    if set(heard.values) <= {0.0, 1.0}:
        return Recognised(
            (Likely(quantity, Unit.SWITCH, sure=False, why=f"its name tells of {noun}, and it is 0 or 1"),)
        )
    if quantity is Quantity.OUTPUT and all(0.0 <= value <= 100.0 for value in heard.values):
        return Recognised((Likely(quantity, Unit.PERCENT, sure=False, why=f"its name tells of {noun}, in percent"),))
    return Recognised(remark=f"named as {noun}, but it says {heard.span}")


def _by_value(heard: _Heard) -> Recognised:
    """Without a name that tells: only numbers that are as beer's usually are, and no counters."""
    if heard.fits(Unit.SG) and any(value != round(value) for value in heard.values):
        return _gravities(heard, "numbers just above 1 are rarely anything else")
    placed = next((word for word in heard.words if word in _AIR | _BEER), "")
    if not placed and all(value == round(value) for value in heard.values):
        return Recognised(remark="whole numbers without a name that tells what they are")
    named = f'"{placed}" stands in its name' if placed else "no name tells what it is"
    found = _temperatures(heard, named, sure=bool(placed))
    return found if found.likely else Recognised(remark="nothing that fermwatch knows")


_BY_KIND = {
    "temperature": _as_temperature,
    "set-point": _as_temperature,
    "gravity": _as_gravity,
    "pressure": _as_pressure,
    "output": _as_output,
    "contact": _as_contact,
}
