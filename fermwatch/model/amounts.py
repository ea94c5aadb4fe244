"""Quantities inside a sentence, kept as quantities until somebody reads it.

A rule says `f"beer {temperature(21.04)}, {warmth(1.0)} above the range"`. What is stored holds the numbers, marked;
each reader is told in units of his own (`said`), and a log or a program in the canonical ones (`plain`). The marks are
private characters that `text.clean` takes out of all that comes from outside, so nothing from there can pass for one.
"""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum

_OPEN, _CLOSE = "\ue000", "\ue001"
_MARKED = re.compile(f"{_OPEN}([a-z]):([-+0-9.,einfa]*):([0-9]*)(s?){_CLOSE}")


class AmountKind(StrEnum):
    TEMPERATURE = "t"  # °C
    WARMTH = "w"  # a difference of temperatures, K
    GRAVITY = "g"  # SG 20/20
    POINTS = "p"  # a difference of gravities, thousandths of SG
    VOLUME = "v"  # L
    PRESSURE = "b"  # bar gauge
    MASS = "m"  # g
    DOSE = "d"  # of sugar in beer, g/L
    TYPED_TEMPERATURE = "c"  # °C, as it is typed after an option
    TYPED_GRAVITY = "h"  # SG, as it is typed
    TYPED_VOLUME = "l"  # L, as it is typed after an option
    INSTANT = "i"  # s since 1970 in UTC


_UNITS = {
    AmountKind.TEMPERATURE: " °C",
    AmountKind.WARMTH: " °C",
    AmountKind.GRAVITY: "",
    AmountKind.POINTS: " points",
    AmountKind.VOLUME: " L",
    AmountKind.PRESSURE: " bar",
    AmountKind.MASS: " g",
    AmountKind.DOSE: " g/L",
    AmountKind.TYPED_TEMPERATURE: "C",
    AmountKind.TYPED_GRAVITY: "",
    AmountKind.TYPED_VOLUME: "L",
}


@dataclass(frozen=True, slots=True)
class Amount:
    """One value, or the two ends of a range, in the canonical unit of its kind.

    digits: decimals worth saying in the canonical unit; None: as many as say something, at most one (17, 19.5).
    signed: a plus is said too.
    """

    kind: AmountKind
    values: tuple[float, ...]
    digits: int | None = None
    signed: bool = False

    def marked(self) -> str:
        values = ",".join(
            f"{value:.6g}" if self.kind is not AmountKind.INSTANT else f"{value:.0f}" for value in self.values
        )
        digits = "" if self.digits is None else str(self.digits)
        return f"{_OPEN}{self.kind}:{values}:{digits}{'s' if self.signed else ''}{_CLOSE}"

    @property
    def at(self) -> datetime:
        """The instant, of that kind. Raises ValueError where it is none that a calendar knows."""
        try:
            return datetime.fromtimestamp(self.values[0], UTC)
        except (OverflowError, OSError) as error:
            raise ValueError(str(error)) from None

    def written(self, convert: Callable[[float], float], unit: str, digits: int | None) -> str:
        """The numbers after conversion, with their unit once: `17–21 °C`. One point is no `points`."""
        numbers = [number(convert(value), digits, signed=self.signed) for value in self.values]
        numbers = numbers[:1] if len(set(numbers)) == 1 else numbers
        if unit == " points" and numbers in (["1"], ["-1"], ["+1"]):
            unit = " point"
        dash = "-" if self.kind is AmountKind.TYPED_TEMPERATURE else "–"
        return f"{dash.join(numbers)}{unit}"

    def canonical(self) -> str:
        if self.kind is AmountKind.INSTANT:
            return f"{self.at:%Y-%m-%d %H:%M} UTC"
        return self.written(float, _UNITS[self.kind], self.digits)


_HALF = 1e-9  # more than binary is off, and less than anybody measures


def number(value: float, digits: int | None, *, signed: bool = False) -> str:
    """A number with its decimals; never minus nothing. Half a last place goes up, as people round: of 1.0125 and 1.0135
    what is nearest in binary is the one time below and the other above.
    """
    value += math.copysign(_HALF, value)
    said = f"{round(value, 1):g}" if digits is None else f"{value:.{digits}f}"
    if not said.strip("-0."):
        said = said.lstrip("-")
    return f"+{said}" if signed and not said.startswith("-") and said.strip("0.") else said


def temperature(celsius: float, digits: int | None = 1) -> str:
    return Amount(AmountKind.TEMPERATURE, (celsius,), digits).marked()


def temperature_range(low_c: float, high_c: float) -> str:
    return Amount(AmountKind.TEMPERATURE, (low_c, high_c)).marked()


def warmth(kelvins: float, digits: int | None = 1, *, signed: bool = False) -> str:
    """A difference of temperatures: in °F it is only scaled."""
    return Amount(AmountKind.WARMTH, (kelvins,), digits, signed).marked()


def gravity(gravity_sg: float, digits: int = 3) -> str:
    return Amount(AmountKind.GRAVITY, (gravity_sg,), digits).marked()


def gravity_range(low_sg: float, high_sg: float) -> str:
    return Amount(AmountKind.GRAVITY, (low_sg, high_sg), 3).marked()


def points(difference_points: float, digits: int | None = None, *, signed: bool = False) -> str:
    """A difference of gravities, in points of SG; for a rate write `f"{points(6)} a day"`."""
    return Amount(AmountKind.POINTS, (difference_points,), digits, signed).marked()


def points_range(low_points: float, high_points: float, digits: int | None = None) -> str:
    return Amount(AmountKind.POINTS, (low_points, high_points), digits).marked()


SURELY_STEADY = 1.05  # points/day, either way: what is known so well, and may be nothing, is steady
SURELY_RISING = 1.0  # points/day: less is a probe that settles or drifts
TELLS_NOTHING = 3.0  # points/day: whatever ferments may fall by so much, and a larger number only frightens
NOT_KNOWN = "rate not known"
SURE_90 = 1.645  # standard deviations either way of a normal distribution


def pace(rate_points_per_day: float, sd_points_per_day: float) -> str:
    """How fast gravity moves, within what is known (90 % sure); negative falls. Inside its own noise a rate is none.

    Beer gains no extract by itself: that it rises is said of what cannot be a probe's wandering.
    """
    either = SURE_90 * sd_points_per_day
    least, most = abs(rate_points_per_day) - either, abs(rate_points_per_day) + either
    digits = 0 if most >= 2.0 else 1 if either >= 0.25 else 2
    falls = rate_points_per_day < 0.0
    if least > (0.0 if falls else SURELY_RISING):
        narrow = most <= 2.0 * least
        size = points_range(least, most, digits) if narrow else f"about {points(abs(rate_points_per_day), digits)}"
        return f"{'falling' if falls else 'rising'} {size}/day"
    if most <= SURELY_STEADY:
        return f"steady (within {points(most, digits)}/day)"
    if least > 0.0:
        return "not falling"
    falls_by = max(either - rate_points_per_day, 0.0)
    if falls_by > TELLS_NOTHING or round(falls_by, digits) == 0.0:
        return NOT_KNOWN
    return f"{NOT_KNOWN} (it may fall by {points(falls_by, digits)}/day)"


def volume(litres: float, digits: int | None = None) -> str:
    return Amount(AmountKind.VOLUME, (litres,), digits).marked()


def pressure(bar: float, digits: int | None = 1) -> str:
    return Amount(AmountKind.PRESSURE, (bar,), digits).marked()


def mass(grams: float, digits: int | None = 0) -> str:
    return Amount(AmountKind.MASS, (grams,), digits).marked()


def dose(grams_per_litre: float, digits: int | None = 2) -> str:
    return Amount(AmountKind.DOSE, (grams_per_litre,), digits).marked()


def typed_temperature(celsius: float) -> str:
    """After an option, in an example: 21C, or 70F to who thinks in °F."""
    return Amount(AmountKind.TYPED_TEMPERATURE, (celsius,), 0).marked()


def typed_temperature_range(low_c: float, high_c: float) -> str:
    """18-21C, or 64-70F."""
    return Amount(AmountKind.TYPED_TEMPERATURE, (low_c, high_c), 0).marked()


def typed_gravity(gravity_sg: float) -> str:
    """1.012, or 3.1P."""
    return Amount(AmountKind.TYPED_GRAVITY, (gravity_sg,), 3).marked()


def typed_volume(litres: float) -> str:
    """After an option, in an example: 2L, or 0.5gal-US to who measures in gallons."""
    return Amount(AmountKind.TYPED_VOLUME, (litres,), 0).marked()


def instant(at: datetime) -> str:
    """When something was or will be: an age would be wrong as soon as the sentence is an hour old."""
    return Amount(AmountKind.INSTANT, (at.timestamp(),)).marked()


def said(text: str, say: Callable[[Amount], str]) -> str:
    """The sentence with each marked quantity as `say` says it. Text without marks comes back as it was."""
    if _OPEN not in text:
        return text
    return _MARKED.sub(lambda match: _said(match, say), text)


def _said(match: re.Match[str], say: Callable[[Amount], str]) -> str:
    kind, values, digits, signed = match.groups()
    try:
        read = tuple(float(value) for value in values.split(","))
        return say(Amount(AmountKind(kind), read, int(digits) if digits else None, bool(signed)))
    except ValueError:
        return match[0]  # not one of ours: shown as the escapes that it is


def around(text: str, change: Callable[[str], str]) -> str:
    """The sentence with `change` made to all but its marked quantities."""
    changed, end = [], 0
    for match in _MARKED.finditer(text):
        changed += [change(text[end : match.start()]), match[0]]
        end = match.end()
    return "".join([*changed, change(text[end:])])


def plain(text: str) -> str:
    """The sentence in canonical units, for logs and programs."""
    return said(text, Amount.canonical)


def plain_data(data: object) -> object:
    """JSON data with every sentence in it in canonical units."""
    if isinstance(data, str):
        return plain(data)
    if isinstance(data, Mapping):
        return {key: plain_data(value) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [plain_data(value) for value in data]
    return data
