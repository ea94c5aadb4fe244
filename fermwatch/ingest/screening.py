"""What a number can be at all: flags for those that beer, or air in a cellar, cannot reach. Pure."""

from fermwatch.model.quantity import Quantity
from fermwatch.model.reading import Flag

# What common digital thermometers say when they measured nothing: the power-on value and "disconnected".
POWER_ON_CODES_C = (85.0, -127.0)

# Plausible spans in canonical units; wide, since a flagged reading is not judged by (common practice).
PLAUSIBLE: dict[Quantity, tuple[float, float]] = {
    Quantity.BEER_TEMPERATURE: (-10.0, 60.0),
    Quantity.AIR_TEMPERATURE: (-40.0, 70.0),
    Quantity.SET_POINT: (-10.0, 60.0),
    Quantity.GRAVITY: (0.970, 1.200),
    Quantity.OUTPUT: (0.0, 1.0),
    Quantity.PRESSURE: (-1.0, 12.0),
}


def screen(quantity: Quantity, value: float) -> Flag:
    """Flags for one value in its canonical unit."""
    if quantity.is_temperature and value in POWER_ON_CODES_C:
        return Flag.POWER_ON_CODE
    low, high = PLAUSIBLE[quantity]
    return Flag.GOOD if low <= value <= high else Flag.IMPLAUSIBLE


def _slip(value: float) -> str:
    """The likely mistake of unit behind a number that cannot be."""
    if 60.0 < value <= 110.0:
        return f"; were it °F, it would be {(value - 32.0) / 1.8:.1f} °C"
    if 900.0 <= value <= 1200.0:
        return f"; was {value / 1000:.3f} meant?"
    return ""


def in_words(flags: Flag, value: float) -> str:
    """Why a reading is not to be believed; empty for a good one."""
    if flags & Flag.POWER_ON_CODE:
        return f"it says {value:.1f} °C, which means that it measured nothing"
    if flags & Flag.IMPLAUSIBLE:
        return f"it says {value:g}, which cannot be{_slip(value)}"
    return ""
