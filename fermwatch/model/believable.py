"""Whether a reading can be believed: what the quantity can be at all, whether its unit is another than configured,
and whether beer can have changed that fast. The one place that says so; what is doubted is kept, and not judged by.

The figures are common practice, wide on purpose, but for the heat of a jump, which is worked out beside it.
"""

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta

from fermwatch.model import amounts
from fermwatch.model.quantity import CANONICAL_UNIT, Quantity, Unit
from fermwatch.model.reading import Flag

# What common digital thermometers say when they measured nothing: the power-on value and "disconnected".
POWER_ON_CODES_C = (85.0, -127.0)

# Plausible spans in canonical units.
PLAUSIBLE: dict[Quantity, tuple[float, float]] = {
    Quantity.BEER_TEMPERATURE: (-10.0, 60.0),
    Quantity.AIR_TEMPERATURE: (-40.0, 70.0),
    Quantity.STORE_TEMPERATURE: (-40.0, 70.0),
    Quantity.SET_POINT: (-10.0, 60.0),
    Quantity.GRAVITY: (0.970, 1.200),
    Quantity.OUTPUT: (0.0, 1.0),
    Quantity.CONTACT: (0.0, 1.0),
    Quantity.PRESSURE: (-1.0, 12.0),
}

# Numbers that fermenting beer is usually said in, by unit: outside the configured unit's and inside another's, it is
# likely said in the other.
USUAL: dict[Unit, tuple[float, float]] = {
    Unit.CELSIUS: (-2.5, 45.0),
    Unit.FAHRENHEIT: (27.5, 113.0),
    Unit.KELVIN: (270.5, 318.0),
    Unit.SG: (0.985, 1.170),
    Unit.PLATO: (-4.0, 34.0),
    Unit.BRIX: (-4.0, 34.0),
    Unit.POINTS: (-16.0, 150.0),
}
_DOUBTED = {Quantity.BEER_TEMPERATURE, Quantity.GRAVITY}


def believable(flags: Flag) -> bool:
    """Fit to be judged by and to be drawn: a clock that is unsure spoils no value."""
    return not flags & ~Flag.CLOCK_UNSURE


def screen(quantity: Quantity, value: float, *, said: float | None = None, unit: Unit | None = None) -> Flag:
    """Flags for one value in its canonical unit. `said` in `unit`: the number itself, where the unit is only
    configured and was not said with it."""
    if quantity.is_temperature and value in POWER_ON_CODES_C:
        return Flag.POWER_ON_CODE
    low, high = PLAUSIBLE[quantity]
    flags = Flag.GOOD if low <= value <= high else Flag.IMPLAUSIBLE
    if said is not None and unit is not None and units_meant(quantity, said, unit):
        flags |= Flag.UNIT_DOUBTED
    return flags


def units_meant(quantity: Quantity, said: float, unit: Unit) -> tuple[Unit, ...]:
    """The units that a number was likelier said in than in the configured one; none where that one fits.

    A number as 1.048 fits °P, °Bx and points too, as nearly nothing left: there SG is as likely, and must be ruled out.
    """
    if quantity not in _DOUBTED:
        return ()
    others = [one for one in USUAL if one is not unit and _canonical(one) is CANONICAL_UNIT[quantity]]
    if _within(said, unit):
        return (Unit.SG,) if unit is not Unit.SG and Unit.SG in others and _within(said, Unit.SG) else ()
    fitting = tuple(one for one in others if _within(said, one) and one is not Unit.BRIX)
    return fitting[:1] if quantity is Quantity.BEER_TEMPERATURE else fitting


def _canonical(unit: Unit) -> Unit:
    return Unit.CELSIUS if unit in {Unit.CELSIUS, Unit.FAHRENHEIT, Unit.KELVIN} else Unit.SG


def _within(said: float, unit: Unit) -> bool:
    low, high = USUAL[unit]
    return low <= said <= high


def why_doubted(flags: Flag, quantity: Quantity, value: float, said: float, unit: Unit) -> str:
    """Why a reading is not to be believed, with what the device said; empty for a good one.

    value: in the canonical unit, as stored. said, unit: the same as the device said it, in its configured unit.
    """
    amount = _amount(quantity, value)
    if flags & Flag.UNIT_DOUBTED:
        meant = units_meant(quantity, said, unit)
        if not meant:  # of another unit than today's: what it said then is not known any more
            return "its last reading was doubted in the unit that was configured then: the next one tells"
        return f'reads {said:.6g}: is this {" or ".join(meant)}? If so, set unit = "{meant[0]}" for this probe'
    if flags & Flag.POWER_ON_CODE:
        return f"{amount} means that the probe measured nothing"
    if flags & Flag.IMPLAUSIBLE:
        lost_point = "; does it leave out the decimal point?" if 900.0 <= said <= 1200.0 else ""
        return f"{amount} cannot be{lost_point}"
    if flags & Flag.JUMP:
        return f"jumped to {amount} faster than beer can change"
    if flags & Flag.AHEAD:
        return "its time lies ahead of now: the machine's clock was wrong then"
    return ""


def _amount(quantity: Quantity, value: float) -> str:
    if quantity.is_temperature:
        return amounts.temperature(value)
    if quantity is Quantity.GRAVITY:
        return amounts.gravity(value)
    return amounts.pressure(value) if quantity is Quantity.PRESSURE else f"{value:.0%}"


# A jump. Beer holds its heat: 4.2 kJ/(kg K), water's (CRC Handbook of Chemistry and Physics), so that 500 W, more than
# any heater or cooler of a home fermenter, change 20 L by 21 K an hour. On top of that a probe may stray a little.
HEAT_W = 500.0
HEAT_J_PER_LITRE_K = 4186.0
STRAYS_K = 2.0
# The fastest ferments lose some 60 points a day (common practice); floats stray, and sugar or fruit bring steps.
POINTS_PER_DAY = 150.0
STRAYS_POINTS = 25.0
NEAR_POINTS = 8.0  # 2 °P

LATE = timedelta(days=1)
STOOD = timedelta(minutes=10)
STOOD_READINGS = 3


@dataclass(frozen=True, slots=True)
class ValueAt:
    """A value at an instant, milliseconds since 1970."""

    at_ms: int
    value: float


@dataclass(frozen=True, slots=True)
class Level:
    """Where a series is believed to be. waiting: the newest, and since when, of a new level that is not believed yet:
    it is once it has stood, as when a probe was put elsewhere."""

    believed: ValueAt
    waiting: ValueAt | None = None
    waiting_since_ms: int = 0
    waiting_readings: int = 0

    def stands_after(self, said: ValueAt) -> bool:
        """Whether a new level has stood long enough with this reading of it."""
        long_enough = said.at_ms - self.waiting_since_ms >= STOOD / timedelta(milliseconds=1)
        return long_enough and self.waiting_readings + 1 >= STOOD_READINGS


def weigh(
    level: Level | None, quantity: Quantity, volume_l: float, said: ValueAt, flags: Flag
) -> tuple[Flag, Level | None]:
    """The flags of a reading against what is believed of its series so far, and what is believed then. Causal: flags
    rest on what came before in order of arrival."""
    if flags & Flag.UNIT_DOUBTED and not flags & Flag.IMPLAUSIBLE and _settles_unit(level, quantity, said):
        flags &= ~Flag.UNIT_DOUBTED
    if not believable(flags):
        return flags, level
    if level is None or can_follow(level.believed, said, quantity, volume_l):
        # A reading of days ago is not late: the clock was set back, or a device tells its history.
        newer = level is None or not 0 < level.believed.at_ms - said.at_ms <= LATE / timedelta(milliseconds=1)
        return flags, Level(said) if newer else level
    if said.at_ms < level.believed.at_ms:
        return flags | Flag.JUMP, level
    if level.waiting is None or not can_follow(level.waiting, said, quantity, volume_l):
        return flags | Flag.JUMP, Level(level.believed, said, said.at_ms, 1)
    if level.stands_after(said):
        return flags, Level(said)
    return flags | Flag.JUMP, Level(level.believed, said, level.waiting_since_ms, level.waiting_readings + 1)


def _settles_unit(level: Level | None, quantity: Quantity, said: ValueAt) -> bool:
    """A nearly finished beer says 1.1 °P too: believed where it was near there, by numbers that only °P can mean."""
    near = level is not None and 1000.0 * abs(said.value - level.believed.value) <= NEAR_POINTS
    return near and quantity is Quantity.GRAVITY


def can_follow(before: ValueAt, after: ValueAt, quantity: Quantity, volume_l: float) -> bool:
    """Whether beer that was at one value can be at the other then. Only beer is that slow."""
    apart_s = abs(after.at_ms - before.at_ms) / 1000.0
    change = abs(after.value - before.value)
    if quantity is Quantity.BEER_TEMPERATURE:
        return change <= STRAYS_K + apart_s * HEAT_W / (HEAT_J_PER_LITRE_K * max(volume_l, 1.0))
    if quantity is Quantity.GRAVITY:
        return 1000.0 * change <= STRAYS_POINTS + apart_s / 86_400.0 * POINTS_PER_DAY
    return True


def sustained_high(values: Iterable[tuple[float, float]], span_s: float = 1800.0) -> float | None:
    """The warmest that held: the highest value that was not undercut for `span_s`; seconds and values in time order.

    One glitch, however high, is no maximum: what follows it within the span is lower. Where less than the span was
    heard, the lowest of it. None where nothing was.
    """
    found = lowest = None
    open_spans: deque[tuple[float, float]] = deque()  # readings of the last span, rising, each lower than none after it
    begun: deque[float] = deque()  # when the readings came that no whole span was looked at from yet
    for at_s, value in values:
        while open_spans and open_spans[-1][1] >= value:
            open_spans.pop()
        open_spans.append((at_s, value))
        begun.append(at_s)
        lowest = value if lowest is None else min(lowest, value)
        while begun and at_s >= begun[0] + span_s:
            since_s = begun.popleft()
            while open_spans[0][0] < since_s:
                open_spans.popleft()
            found = open_spans[0][1] if found is None else max(found, open_spans[0][1])
    return lowest if found is None else found
