"""Units, converted once at the edge: from what a device or a person says to what the store keeps."""

from collections.abc import Callable

from fermwatch.errors import InputError, OutOfDomain
from fermwatch.model.believable import why_doubted
from fermwatch.model.probe import Probe
from fermwatch.model.quantity import CANONICAL_UNIT, Quantity, Unit
from fermwatch.model.reading import Flag
from fermwatch.science.extract import plato_to_sg, sg_to_plato

KELVIN_OF_ZERO_C = 273.15
KPA_PER_BAR = 100.0
PSI_PER_BAR = 14.503773773
LITRES_PER_GALLON_US = 3.785411784  # 231 cubic inches (NIST Handbook 44, appendix C)
LITRES_PER_GALLON_IMPERIAL = 4.54609  # (NIST Handbook 44, appendix C)
GRAMS_PER_OUNCE = 28.349523125  # avoirdupois (NIST Handbook 44, appendix C)

_TO_CANONICAL: dict[tuple[Unit, Unit], Callable[[float], float]] = {
    (Unit.FAHRENHEIT, Unit.CELSIUS): lambda value: (value - 32.0) / 1.8,
    (Unit.KELVIN, Unit.CELSIUS): lambda value: value - KELVIN_OF_ZERO_C,
    (Unit.POINTS, Unit.SG): lambda value: 1.0 + value / 1000.0,
    (Unit.PLATO, Unit.SG): plato_to_sg,
    # A hydrometer's or probe's Brix is mass % of extract, as °Plato; a refractometer's is corrected by hand entry.
    (Unit.BRIX, Unit.SG): plato_to_sg,
    (Unit.KILOPASCAL, Unit.BAR): lambda value: value / KPA_PER_BAR,
    (Unit.PSI, Unit.BAR): lambda value: value / PSI_PER_BAR,
    (Unit.PERCENT, Unit.FRACTION): lambda value: value / 100.0,
    (Unit.SWITCH, Unit.FRACTION): lambda value: 1.0 if value else 0.0,
}

_FROM_CANONICAL: dict[Unit, Callable[[float], float]] = {
    Unit.FAHRENHEIT: lambda value: value * 1.8 + 32.0,
    Unit.KELVIN: lambda value: value + KELVIN_OF_ZERO_C,
    Unit.POINTS: lambda value: (value - 1.0) * 1000.0,
    Unit.PLATO: sg_to_plato,
    Unit.BRIX: sg_to_plato,
    Unit.KILOPASCAL: lambda value: value * KPA_PER_BAR,
    Unit.PSI: lambda value: value * PSI_PER_BAR,
    Unit.PERCENT: lambda value: value * 100.0,
}


def units_of(quantity: Quantity) -> tuple[Unit, ...]:
    """Every unit that a quantity can be said in, the canonical one first."""
    canonical = CANONICAL_UNIT[quantity]
    return (canonical, *(said for said, kept in _TO_CANONICAL if kept is canonical))


def to_canonical(value: float, unit: Unit, quantity: Quantity) -> float:
    """The value in the quantity's canonical unit.

    Raises InputError where the unit does not measure the quantity, OutOfDomain where the number cannot be converted.
    """
    canonical = CANONICAL_UNIT[quantity]
    if unit is canonical:
        return value
    convert = _TO_CANONICAL.get((unit, canonical))
    if convert is None:
        allowed = ", ".join(units_of(quantity))
        raise InputError(f"{unit} is not a unit of {quantity}.", hint=f"Use one of: {allowed}.")
    return convert(value)


def from_canonical(value: float, unit: Unit) -> float:
    """The number as it is said in `unit`. Raises OutOfDomain where it cannot be converted."""
    convert = _FROM_CANONICAL.get(unit)
    return value if convert is None else convert(value)


def fahrenheit(celsius: float) -> float:
    return celsius * 1.8 + 32.0


def doubt(flags: Flag, probe: Probe, value: float) -> str:
    """Why a reading of the probe, in its canonical unit, is not to be believed, as its device said it; empty for a
    good one."""
    if not flags:
        return ""
    try:
        said = from_canonical(value, probe.unit)
    except OutOfDomain:
        said = value
    return why_doubted(flags, probe.quantity, value, said, probe.unit)
