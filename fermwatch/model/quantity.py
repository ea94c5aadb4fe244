"""What a probe measures, and the unit in which the store keeps it."""

from enum import StrEnum


class Quantity(StrEnum):
    BEER_TEMPERATURE = "beer-temperature"
    AIR_TEMPERATURE = "air-temperature"
    STORE_TEMPERATURE = "store-temperature"  # where bottles and kegs stand: of no fermenter
    GRAVITY = "gravity"
    SET_POINT = "set-point"
    OUTPUT = "output"
    PRESSURE = "pressure"
    CONTACT = "contact"  # what is on or off and drives nothing: a door's switch, an alarm bit of a controller

    @property
    def is_temperature(self) -> bool:
        return CANONICAL_UNIT[self] is Unit.CELSIUS


class Unit(StrEnum):
    """Units a device may speak in. The first of each kind is canonical."""

    CELSIUS = "°C"
    FAHRENHEIT = "°F"
    KELVIN = "K"
    SG = "SG"  # specific gravity 20/20
    POINTS = "points"  # (SG - 1) x 1000
    PLATO = "°P"
    BRIX = "°Bx"
    BAR = "bar"  # gauge
    KILOPASCAL = "kPa"
    PSI = "psi"
    FRACTION = "0..1"
    PERCENT = "%"
    SWITCH = "on/off"


CANONICAL_UNIT = {
    Quantity.BEER_TEMPERATURE: Unit.CELSIUS,
    Quantity.AIR_TEMPERATURE: Unit.CELSIUS,
    Quantity.STORE_TEMPERATURE: Unit.CELSIUS,
    Quantity.SET_POINT: Unit.CELSIUS,
    Quantity.GRAVITY: Unit.SG,
    Quantity.OUTPUT: Unit.FRACTION,
    Quantity.CONTACT: Unit.FRACTION,
    Quantity.PRESSURE: Unit.BAR,
}
