"""How far fermwatch may go with a temperature controller."""

from enum import StrEnum

CAUTION = "fermwatch is no safety device: an independent cut-out protects what is heated"


class Degree(StrEnum):
    OBSERVE = "observe"  # reads only
    SET = "set"  # writes set points to a controller that regulates by itself
    DRIVE = "drive"  # switches outputs


class Output(StrEnum):
    """What a controller can switch."""

    HEAT = "heat"
    COOL = "cool"
