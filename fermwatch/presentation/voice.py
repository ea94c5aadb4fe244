"""How numbers, names and times are said to one reader: units, time zone, and whether only ASCII can be shown."""

import unicodedata
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from fermwatch.model import amounts
from fermwatch.model.amounts import Amount, Kind
from fermwatch.model.quantity import Quantity
from fermwatch.science.extract import SG_HIGH, SG_LOW, sg_to_plato
from fermwatch.text import clean
from fermwatch.units import PSI_PER_BAR, fahrenheit

LONGEST_TEXT = 400
LITRES_PER_US_GALLON = 3.785411784  # 231 cubic inches (NIST Handbook 44, appendix C)
GRAMS_PER_OUNCE = 28.349523125  # avoirdupois (NIST Handbook 44, appendix C)
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


@dataclass(frozen=True, slots=True)
class Units:
    """What temperature and gravity are said in."""

    fahrenheit: bool = False
    plato: bool = False

    def following(self) -> "Units":
        """The next of the four pairs."""
        return Units(fahrenheit=not self.fahrenheit, plato=self.plato ^ self.fahrenheit)

    @property
    def gallons(self) -> bool:
        """Who reads °F measures in US gallons, ounces and psi."""
        return self.fahrenheit

    @property
    def named(self) -> str:
        return f"{'°F' if self.fahrenheit else '°C'} and {'°P' if self.plato else 'SG'}"


CANONICAL = Units()
UNITS = {"metric": CANONICAL, "us": Units(fahrenheit=True)}


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


@dataclass(frozen=True, slots=True)
class Voice:
    units: Units = CANONICAL
    ascii: bool = False
    zone: tzinfo = UTC

    def text(self, outside: str, limit: int = LONGEST_TEXT) -> str:
        """Text from devices and people, made harmless and showable; its marked quantities in this reader's units."""
        return _harmless(amounts.said(outside, self.amount), limit, self.ascii)

    def amount(self, amount: Amount) -> str:
        """A quantity out of a sentence, as this reader wants it."""
        if amount.kind is Kind.TEMPERATURE and self.units.fahrenheit:
            return amount.written(fahrenheit, " °F", amount.digits)
        if amount.kind is Kind.WARMTH and self.units.fahrenheit:
            return amount.written(lambda kelvins: kelvins * 1.8, " °F", amount.digits)
        if amount.kind is Kind.GRAVITY and self.units.plato:
            return amount.written(_plato, " °P", 1)
        if amount.kind is Kind.POINTS and self.units.plato:
            return amount.written(lambda points: points * PLATO_PER_POINT, " °P", max(amount.digits or 0, 1))
        if amount.kind is Kind.VOLUME and self.units.gallons:
            return amount.written(lambda litres: litres / LITRES_PER_US_GALLON, " US gal", max(amount.digits or 0, 1))
        if amount.kind is Kind.PRESSURE and self.units.gallons:
            return amount.written(lambda bar: bar * PSI_PER_BAR, " psi", 0)
        if amount.kind is Kind.MASS and self.units.gallons:
            return amount.written(lambda grams: grams / GRAMS_PER_OUNCE, " oz", max(amount.digits or 0, 1))
        return amount.canonical()

    def local(self, at: datetime) -> datetime:
        return at.astimezone(self.zone)

    def degrees(self, celsius: float) -> float:
        return fahrenheit(celsius) if self.units.fahrenheit else celsius

    @property
    def degree_unit(self) -> str:
        letter = "F" if self.units.fahrenheit else "C"
        return letter if self.ascii else f"°{letter}"

    def temperature(self, celsius: float) -> str:
        return f"{self.degrees(celsius):.1f} {self.degree_unit}"

    def bare_temperature(self, celsius: float) -> str:
        """Without unit, and without a tenth that says nothing: 17, 19.5."""
        return f"{round(self.degrees(celsius), 1):g}"

    def temperature_range(self, low_c: float, high_c: float) -> str:
        dash = "-" if self.ascii else "–"
        return f"{self.bare_temperature(low_c)}{dash}{self.bare_temperature(high_c)} {self.degree_unit}"

    def bare_gravity(self, gravity_sg: float) -> str:
        """A gravity beyond what °P is defined for is said at the edge of it."""
        if not self.units.plato:
            return f"{gravity_sg:.3f}"
        return f"{_plato(gravity_sg):.1f}"

    def gravity(self, gravity_sg: float) -> str:
        if not self.units.plato:
            return self.bare_gravity(gravity_sg)
        return f"{self.bare_gravity(gravity_sg)} {'P' if self.ascii else '°P'}"

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
        return f"{value:.0%}" if quantity is Quantity.OUTPUT else f"{value:.2f} bar"

    @property
    def dot(self) -> str:
        return " - " if self.ascii else " · "

    @property
    def ellipsis(self) -> str:
        return "~" if self.ascii else "…"
