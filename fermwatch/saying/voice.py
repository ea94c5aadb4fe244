"""How numbers, names and times are said to one reader: units, time zone, and whether only ASCII can be shown."""

import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, tzinfo
from enum import StrEnum
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from fermwatch.errors import InputError
from fermwatch.model import amounts
from fermwatch.model.amounts import Amount, AmountKind
from fermwatch.model.quantity import Quantity
from fermwatch.science.extract import SG_HIGH, SG_LOW, sg_to_plato
from fermwatch.text import clean
from fermwatch.units import (
    GRAMS_PER_OUNCE,
    LITRES_PER_GALLON_IMPERIAL,
    LITRES_PER_GALLON_US,
    PSI_PER_BAR,
    fahrenheit,
)

LONGEST_TEXT = 400
PLATO_PER_POINT = 0.26  # the slope of the NBS cubic at the gravities of beer, to the two digits that a spread needs
_ASCII_FORM = str.maketrans(
    {"°": "", "–": "-", "—": "-", "…": "~", "→": ">", "·": "-", "±": "+/-", "×": "x", "’": "'", "‘": "'", "“": '"',
     "”": '"', "≥": ">=", "≤": "<=", "−": "-", "₂": "2", "ß": "ss", "ø": "o", "Ø": "O", "æ": "ae", "µ": "u"}
)  # fmt: skip


def to_ascii(text: str) -> str:
    """The nearest ASCII: accents dropped, signs spelt out, anything else a question mark."""
    if text.isascii():
        return text
    spelt = unicodedata.normalize("NFKD", text.translate(_ASCII_FORM))
    return "".join(
        character if character.isascii() else "?" for character in spelt if not unicodedata.combining(character)
    )


class Gallon(StrEnum):
    """Which gallon is meant: they differ by a fifth."""

    US = "us"
    IMPERIAL = "imperial"


LITRES_PER_GALLON = {Gallon.US: LITRES_PER_GALLON_US, Gallon.IMPERIAL: LITRES_PER_GALLON_IMPERIAL}
# The US gallon has 128, the imperial one 160.
LITRES_PER_FLUID_OUNCE = {Gallon.US: LITRES_PER_GALLON_US / 128, Gallon.IMPERIAL: LITRES_PER_GALLON_IMPERIAL / 160}
SMALL_L = 1.0  # a bottle, which in gallons would be 0.1
OUNCES_PER_POUND = 16
GALLON_NAMES = {Gallon.US: "US gal", Gallon.IMPERIAL: "imp gal"}
TYPED_GALLONS = {Gallon.US: "gal-US", Gallon.IMPERIAL: "gal-imp"}


@dataclass(frozen=True, slots=True)
class Units:
    """What numbers are said in; who measures in a gallon, weighs in ounces and gauges in psi."""

    fahrenheit: bool = False
    plato: bool = False
    gallon: Gallon | None = None

    @property
    def pair(self) -> str:
        return f"{'°F' if self.fahrenheit else '°C'} and {'°P' if self.plato else 'SG'}"

    @property
    def named(self) -> str:
        """All of it: the measures too where they are not those that go with the temperature."""
        usual = Gallon.US if self.fahrenheit else None
        if self.gallon is usual:
            return self.pair
        return f"{self.pair}, {f'{self.gallon} gallons' if self.gallon else 'litres'}"

    @property
    def words(self) -> tuple[str, ...]:
        """The words that `units_of` makes these of."""
        measure = f"{self.gallon}-gallons" if self.gallon else "litres"
        return "fahrenheit" if self.fahrenheit else "celsius", "plato" if self.plato else "sg", measure


CANONICAL = Units()
US = Units(fahrenheit=True, gallon=Gallon.US)
USUAL_UNITS = (US, CANONICAL, Units(plato=True))


def turns(chosen: Units) -> tuple[Units, ...]:
    """What one key turns to, one after another: each of the usual sets once, and last what was chosen again."""
    place = USUAL_UNITS.index(chosen) + 1 if chosen in USUAL_UNITS else 0
    others = (*USUAL_UNITS[place:], *USUAL_UNITS[:place])
    return (*(one for one in others if one != chosen), chosen)


_CHANGES: Mapping[str, Callable[[Units], Units]] = {
    "metric": lambda units: replace(CANONICAL, plato=units.plato),
    "us": lambda units: replace(US, plato=units.plato),
    "celsius": lambda units: replace(units, fahrenheit=False),
    "fahrenheit": lambda units: replace(units, fahrenheit=True),
    "sg": lambda units: replace(units, plato=False),
    "plato": lambda units: replace(units, plato=True),
    "litres": lambda units: replace(units, gallon=None),
    "us-gallons": lambda units: replace(units, gallon=Gallon.US),
    "imperial-gallons": lambda units: replace(units, gallon=Gallon.IMPERIAL),
}
UNIT_WORDS = tuple(_CHANGES)


def units_of(words: str, *, what: str) -> Units:
    """The units of words as "us plato" or "us,plato", from left to right. InputError, naming `what`, for another."""
    units = CANONICAL
    for word in words.lower().replace(",", " ").split():
        change = _CHANGES.get(word)
        if change is None:
            raise InputError(
                f"{what}: {word!r:.40} is no unit known here.", hint=f"One or more of: {', '.join(_CHANGES)}."
            )
        units = change(units)
    return units


@lru_cache(maxsize=8)
def zone_of(name: str) -> tzinfo:
    """The named zone; UTC where this machine does not know it. The first call for a zone reads a file."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return UTC


@lru_cache(maxsize=2048)  # names and statements are the same ones every second
def _harmless(outside: str, limit: int, only_ascii: bool) -> str:
    harmless = clean(outside, limit)
    return to_ascii(harmless) if only_ascii else harmless


def _plato(gravity_sg: float) -> float:
    """At the edge of what °P is defined for, where it lies beyond."""
    return sg_to_plato(min(max(gravity_sg, SG_LOW), SG_HIGH))


def _is_whole(celsius: float) -> bool:
    """Whether it was meant to a degree, so that a tenth of a °F would be made up."""
    return celsius == round(celsius)


def _avoirdupois(amount: Amount) -> str:
    """12.5 oz; 1 lb 1.6 oz; 3 lb. What is reckoned to be weighed, with its digits: 4.05 oz (115 g)."""
    if amount.digits is not None and len(amount.values) == 1:
        return f"{amount.values[0] / GRAMS_PER_OUNCE:.2f} oz ({amount.canonical()})"
    ounces = [round(grams / GRAMS_PER_OUNCE, 1) for grams in amount.values]
    if len(ounces) > 1 or ounces[0] < OUNCES_PER_POUND:
        return amount.written(lambda grams: grams / GRAMS_PER_OUNCE, " oz", None)
    pounds, over = divmod(ounces[0], OUNCES_PER_POUND)
    return f"{pounds:.0f} lb" + (f" {over:.1f}".removesuffix(".0") + " oz" if round(over, 1) else "")


@dataclass(frozen=True, slots=True)
class Voice:
    units: Units = CANONICAL
    ascii: bool = False
    zone: tzinfo = UTC

    def said(self, amount: Amount) -> str:
        """An instant in this reader's zone; any other quantity in his units."""
        if amount.kind is not AmountKind.INSTANT:
            return self.amount(amount)
        local = self.local(amount.at)
        return f"{local.day} {local:%b %H:%M}"

    def text(self, outside: str, limit: int = LONGEST_TEXT) -> str:
        """Text from devices and people, made harmless and showable; its marked quantities in this reader's units."""
        return _harmless(amounts.said(outside, self.said), limit, self.ascii)

    def amount(self, amount: Amount) -> str:
        """A quantity out of a sentence, as this reader wants it."""
        if amount.kind is AmountKind.TEMPERATURE and self.units.fahrenheit:
            whole = amount.digits is None and all(_is_whole(celsius) for celsius in amount.values)
            return amount.written(fahrenheit, " °F", 0 if whole else amount.digits)
        if amount.kind is AmountKind.TYPED_TEMPERATURE and self.units.fahrenheit:
            return amount.written(fahrenheit, "F", 0)
        if amount.kind is AmountKind.WARMTH and self.units.fahrenheit:
            return amount.written(lambda kelvins: kelvins * 1.8, " °F", amount.digits)
        if amount.kind is AmountKind.GRAVITY and self.units.plato:
            return amount.written(_plato, " °P", 1)
        if amount.kind is AmountKind.TYPED_GRAVITY and self.units.plato:
            return amount.written(_plato, "P", 1)
        if amount.kind is AmountKind.POINTS and self.units.plato:
            return amount.written(lambda points: points * PLATO_PER_POINT, " °P", max(amount.digits or 0, 1))
        return amount.canonical() if self.units.gallon is None else self._customary(amount, self.units.gallon)

    def _customary(self, amount: Amount, gallon: Gallon) -> str:
        """Volume, pressure and mass for who measures in gallons."""
        if amount.kind is AmountKind.VOLUME and max(amount.values) < SMALL_L:
            return amount.written(lambda litres: litres / LITRES_PER_FLUID_OUNCE[gallon], " fl oz", None)
        if amount.kind is AmountKind.VOLUME:
            per, unit = LITRES_PER_GALLON[gallon], f" {GALLON_NAMES[gallon]}"
            return amount.written(lambda litres: litres / per, unit, max(amount.digits or 0, 1))
        if amount.kind is AmountKind.TYPED_VOLUME:
            return amount.written(lambda litres: litres / LITRES_PER_GALLON[gallon], TYPED_GALLONS[gallon], 1)
        if amount.kind is AmountKind.DOSE:
            ounces = LITRES_PER_GALLON[gallon] / GRAMS_PER_OUNCE
            return amount.written(lambda grams: grams * ounces, f" oz/{GALLON_NAMES[gallon]}", 2)
        if amount.kind is AmountKind.PRESSURE:
            return amount.written(lambda bar: bar * PSI_PER_BAR, " psi", 0)
        if amount.kind is AmountKind.MASS:
            return _avoirdupois(amount)
        return amount.canonical()

    def local(self, at: datetime) -> datetime:
        """At the very edge of the calendar, where a zone's hours would lead out of it, they are passed over."""
        try:
            return at.astimezone(self.zone)
        except OverflowError:
            return at.replace(tzinfo=self.zone)

    def degrees(self, celsius: float) -> float:
        return fahrenheit(celsius) if self.units.fahrenheit else celsius

    @property
    def degree_unit(self) -> str:
        letter = "F" if self.units.fahrenheit else "C"
        return letter if self.ascii else f"°{letter}"

    def temperature(self, celsius: float) -> str:
        return f"{self.degrees(celsius):.1f} {self.degree_unit}"

    def bare_temperature(self, celsius: float) -> str:
        """Without unit, and without a tenth that says nothing: 17, 19.5; in °F 63 where it was 17 °C."""
        digits = 0 if self.units.fahrenheit and _is_whole(celsius) else None
        return amounts.number(self.degrees(celsius), digits)

    def temperature_range(self, low_c: float, high_c: float) -> str:
        dash = "-" if self.ascii else "–"
        return f"{self.bare_temperature(low_c)}{dash}{self.bare_temperature(high_c)} {self.degree_unit}"

    def bare_gravity(self, gravity_sg: float) -> str:
        """A gravity beyond what °P is defined for is said at the edge of it."""
        if not self.units.plato:
            return amounts.number(gravity_sg, 3)
        return amounts.number(_plato(gravity_sg), 1)

    def gravity(self, gravity_sg: float) -> str:
        if not self.units.plato:
            return self.bare_gravity(gravity_sg)
        return f"{self.bare_gravity(gravity_sg)} {'P' if self.ascii else '°P'}"

    def gravity_as_read(self, gravity_sg: float) -> str:
        """To half a division of an ordinary hydrometer: 1.0125, and 1.012 where it stood at one."""
        half_points = round((gravity_sg - 1.0) * 2000.0)
        if self.units.plato or half_points % 2 == 0:
            return self.gravity(gravity_sg)
        return f"{1.0 + half_points / 2000.0:.4f}"

    def gravity_beside_plato(self, gravity_sg: float, places: int = 3, *, spread: str = "") -> str:
        """For where a gravity is put down: 1.052 (12.9 °P); who reads °P is told that alone."""
        if self.units.plato:
            return f"{self.gravity(gravity_sg)}{spread}"
        plato = amounts.number(_plato(gravity_sg), 1)
        return f"{gravity_sg:.{places}f}{spread} ({plato} {'P' if self.ascii else '°P'})"

    def gravity_range(self, low_sg: float, high_sg: float) -> str:
        low, high = self.bare_gravity(low_sg), self.bare_gravity(high_sg)
        said = low if low == high else f"{low}{'-' if self.ascii else '–'}{high}"
        return said if not self.units.plato else f"{said} {'P' if self.ascii else '°P'}"

    def gravity_spread(self, points: float) -> str:
        """An uncertainty in points of SG, in the unit that gravity is said in: ±0.7 points, ±0.2 °P."""
        sign = "+/-" if self.ascii else "±"
        if not self.units.plato:
            return f"{sign}{points:g} points"
        return f"{sign}{points * PLATO_PER_POINT:.1f} {'P' if self.ascii else '°P'}"

    def quantity(self, quantity: Quantity, value: float) -> str:
        """A value in its quantity's canonical unit, as this reader wants it."""
        if quantity.is_temperature:
            return self.temperature(value)
        if quantity is Quantity.GRAVITY:
            return self.gravity(value)
        if quantity is Quantity.CONTACT:
            return "on" if value >= 0.5 else "off"
        return f"{value:.0%}" if quantity is Quantity.OUTPUT else self.text(amounts.pressure(value, 2))

    @property
    def dot(self) -> str:
        return " - " if self.ascii else " · "

    @property
    def ellipsis(self) -> str:
        return "~" if self.ascii else "…"
