"""Amounts as a person types them: a number and its unit, read strictly, in the unit that everything else works in.

`what` names where it was typed, for the error. A bare number is metric, or as US brewers mean it where `us` says so;
a gallon is never guessed, for the US and the imperial one differ by a fifth.
"""

import re
from collections.abc import Callable, Mapping

from fermwatch.errors import InputError
from fermwatch.saying.voice import GALLON_NAMES, LITRES_PER_GALLON, Gallon
from fermwatch.science import slips
from fermwatch.science.extract import plato_to_sg
from fermwatch.units import (
    GRAMS_PER_OUNCE,
    LITRES_PER_GALLON_IMPERIAL,
    LITRES_PER_GALLON_US,
    PSI_PER_BAR,
    fahrenheit,
)

WARM_PLACE_C = 40.0  # above it a bare number may well be °F
WARMEST_PLACE_C = 60.0  # a parked car in the sun (common practice)
GRAMS_PER_POUND = 453.59237
METRES_PER_FOOT = 0.3048

_NUMBER = r"[+-]?(?:\d{1,12}\.?\d{0,12}|\.\d{1,12})"
_AMOUNT = re.compile(rf"({_NUMBER})\s*(\D.*)?", re.ASCII)
_COMMA = re.compile(r"([+-]?\d{1,12}),(\d{1,12})(\D.*)?", re.ASCII)
_RANGE = re.compile(rf"({_NUMBER}[^\d-]*?)\s*(?:-|–|\.\.|\bto\b)\s*({_NUMBER}.*)", re.ASCII)
_IGNORED = str.maketrans("", "", " -.°")

_VOLUMES_L = {
    "l": 1.0,
    "ml": 0.001,
    "hl": 100.0,
    "galus": LITRES_PER_GALLON_US,
    "usgal": LITRES_PER_GALLON_US,
    "galimp": LITRES_PER_GALLON_IMPERIAL,
    "impgal": LITRES_PER_GALLON_IMPERIAL,
    "galimperial": LITRES_PER_GALLON_IMPERIAL,
    "imperialgal": LITRES_PER_GALLON_IMPERIAL,
}
_MASSES_G = {"g": 1.0, "kg": 1000.0, "oz": GRAMS_PER_OUNCE, "lb": GRAMS_PER_POUND, "lbs": GRAMS_PER_POUND}
_PRESSURES_BAR = {"bar": 1.0, "mbar": 0.001, "kpa": 0.01, "mpa": 10.0, "psi": 1.0 / PSI_PER_BAR}
_HOURS = {"h": 1.0, "min": 1.0 / 60.0, "d": 24.0, "day": 24.0, "days": 24.0}
_LENGTHS_M = {"m": 1.0, "ft": METRES_PER_FOOT}
_OHMS = {"ohm": 1.0, "ohms": 1.0, "kohm": 1000.0, "k": 1000.0}


def number(text: str, *, what: str, low: float, high: float, unit: str = "") -> float:
    """A plain number, with or without its one possible unit, within its range."""
    value, said = _split(text, what, f"{low:g}{unit}")
    if said not in {"", _plain(unit)}:
        raise InputError(f"{what}: {_shown(text)} is in {said!r}, and {unit or 'a bare number'} is wanted.")
    return _within(value, low, high, what, unit)


def temperature_c(text: str, *, what: str, us: bool = False, low_c: float = 0.0, high_c: float = 40.0) -> float:
    """°C of "19", "19C", "66F" or "292K"; a bare number is °F where `us`."""
    value, unit = _split(text, what, "66F" if us else "19C")
    unit = unit or ("f" if us else "c")
    if unit == "k":
        value, unit = value - 273.15, "c"
    if unit not in {"c", "f"}:
        raise InputError(f"{what}: {_shown(text)} is no temperature.", hint="Say it as 19C or 66F.")
    slip = slips.temperature_slip(value, low_c=low_c, high_c=high_c, fahrenheit=unit == "f")
    if slip is not None:
        raise InputError(f"{what}: {slip}")
    return value if unit == "c" else (value - 32.0) / 1.8


def place_c(text: str, *, what: str, us: bool = False, low_c: float = -2.0) -> float:
    """°C of where a package may stand or once get: a car reaches 60. A bare 45 is asked about: it may be in °F."""
    value, unit = _split(text, what, "66F" if us else "19C")
    if not unit and not us and WARM_PLACE_C < value <= WARMEST_PLACE_C:
        raise InputError(
            f"{what}: {_shown(text)}: in °C or in °F?",
            hint=f"Say {value:g}C, or {value:g}F ({(value - 32.0) / 1.8:.1f} °C).",
        )
    return temperature_c(text, what=what, us=us, low_c=low_c, high_c=WARMEST_PLACE_C)


def temperature_range_c(
    text: str, *, what: str, us: bool = False, low_c: float = -2.0, high_c: float = 45.0
) -> tuple[float, float]:
    """°C of "18-21" or "64-70F"; bare numbers are °F where `us`."""
    return _range(text, what, lambda part: temperature_c(part, what=what, us=us, low_c=low_c, high_c=high_c))


def gravity_sg(text: str, *, what: str) -> float:
    """SG of "1.048", "12.1P", "12.1Bx" (of a hydrometer) or "48points"."""
    match = _AMOUNT.fullmatch(text.strip())
    unit = _plain(match[2] or "") if match is not None else ""
    if match is not None and unit in {"p", "plato", "bx", "brix"}:
        return _named(what, lambda: plato_to_sg(float(match[1])))
    typed = f"{1.0 + float(match[1]) / 1000.0:.6f}" if match is not None and unit in {"point", "points"} else text
    if match is not None and unit == "sg":
        typed = match[1]
    slip = slips.gravity_slip(typed)
    if slip is not None:
        in_plato = match is not None and not unit and "°Plato" in slip
        raise InputError(f"{what}: {slip}", hint=f"Did you mean {match[1]}P?" if match and in_plato else "")
    return float(typed)


def brix(text: str, *, what: str) -> float:
    """°Bx of a refractometer: "12.4" or "12.4Bx"."""
    match = _AMOUNT.fullmatch(text.strip())
    unit = _plain(match[2] or "") if match is not None else ""
    typed = match[1] if match is not None and unit in {"bx", "brix"} else text
    slip = slips.brix_slip(typed)
    if slip is not None:
        raise InputError(f"{what}: {slip}")
    return float(typed)


def volume_l(
    text: str, *, what: str, low_l: float = 0.05, high_l: float = 10_000.0, gallon: Gallon | None = None
) -> float:
    """Litres of "19", "19L", "500mL", "5gal-US" or "5gal-imp"; "5" and "5gal" are of the reader's gallon, if any."""
    value, unit = _split(text, what, "19L")
    bare = unit in {"gal", "gals", "gallon", "gallons"}
    if gallon is not None and (bare or not unit):
        return _within(value * LITRES_PER_GALLON[gallon], low_l, high_l, what, "L")
    if bare:
        american, imperial = value * LITRES_PER_GALLON_US, value * LITRES_PER_GALLON_IMPERIAL
        raise InputError(
            f"{what}: {_shown(text)}: which gallon?",
            hint=f"Say {value:g}gal-US ({american:.1f} L) or {value:g}gal-imp ({imperial:.1f} L); or once and for all "
            "`fermwatch units us-gallons` or `fermwatch units imperial-gallons`.",
        )
    litres = value * _factor(_VOLUMES_L, unit or "l", text, what, "L, mL, hL, gal-US, gal-imp")
    return _within(litres, low_l, high_l, what, "L")


def mass_g(text: str, *, what: str, us: bool = False, low_g: float = 0.01, high_g: float = 1e6) -> float:
    """Grams of "60", "60g", "1.2kg", "2oz" or "1lb"; a bare number is ounces where `us`."""
    value, unit = _split(text, what, "2oz" if us else "60g")
    grams = value * _factor(_MASSES_G, unit or ("oz" if us else "g"), text, what, "g, kg, oz, lb")
    return _within(grams, low_g, high_g, what, "g")


def grams_per_litre(text: str, *, what: str, high_g_per_l: float = 400.0) -> float:
    """g/L of "6.2", "6.2g/L" or "0.8oz/gal-US"."""
    value, unit = _split(text, what, "6.2g/L")
    mass, slash, volume = (unit or "g/l").partition("/")
    if not slash:
        raise InputError(f"{what}: {_shown(text)} lacks its litre.", hint="Say it as 6.2g/L.")
    if volume == "gal":
        raise InputError(f"{what}: {_shown(text)}: which gallon?", hint="Say oz/gal-US, oz/gal-imp, or g/L.")
    per_gram = _factor(_MASSES_G, mass, text, what, "g/L")
    return _within(value * per_gram / _factor(_VOLUMES_L, volume, text, what, "g/L"), 0.0, high_g_per_l, what, "g/L")


def pressure_bar(text: str, *, what: str, us: bool = False, low_bar: float = 0.0, high_bar: float = 12.0) -> float:
    """Bar gauge of "1.2", "1.2bar", "12psi" or "120kPa"; a bare number is psi where `us`."""
    value, unit = _split(text, what, "12psi" if us else "0.8bar")
    bar = value * _factor(_PRESSURES_BAR, unit or ("psi" if us else "bar"), text, what, "bar, kPa, psi")
    return _within(bar, low_bar, high_bar, what, "bar gauge")


def volumes_co2(text: str, *, what: str) -> float:
    """Volumes of CO2: "2.4" or "2.4vol"."""
    value, unit = _split(text, what, "2.4")
    if unit in {"g/l", "gl"}:
        raise InputError(f"{what}: {_shown(text)}: in volumes that is {value / 1.977:.2f}.")
    _factor({"": 1.0, "vol": 1.0, "vols": 1.0, "volumes": 1.0}, unit, text, what, "volumes")
    return _within(value, 0.0, 6.0, what, "volumes")


def hours(text: str, *, what: str, high_h: float = 720.0) -> float:
    """Hours of "30h", "2d", "90min"; a bare number is hours."""
    value, unit = _split(text, what, "30h")
    return _within(value * _factor(_HOURS, unit or "h", text, what, "min, h, d"), 0.0, high_h, what, "h")


def percent(text: str, *, what: str, low: float = 0.0, high: float = 100.0) -> float:
    """Percent of "74" or "74%", as 74. A share such as 0.74 is taken for a slip where `low` says it can be none."""
    value, unit = _split(text, what, "74%")
    _factor({"": 1.0, "%": 1.0}, unit, text, what, "%")
    if value < low <= value * 100.0 <= high:
        raise InputError(f"{what}: {_shown(text)}? Give percent: did you mean {value * 100.0:g}?")
    return _within(value, low, high, what, "%")


def attenuation(text: str, *, what: str) -> tuple[float, float]:
    """Apparent attenuation as shares of "74-79" or "74-79%"."""
    low, high = _range(text, what, lambda part: percent(part, what=what, low=3.0, high=110.0))
    return low / 100.0, high / 100.0


def metres(text: str, *, what: str, us: bool = False) -> float:
    """Metres above the sea of "350m" or "5200ft"; a bare number is feet where `us`."""
    value, unit = _split(text, what, "350m")
    return _within(
        value * _factor(_LENGTHS_M, unit or ("ft" if us else "m"), text, what, "m, ft"), -500.0, 5000.0, what, "m"
    )


def ohms(text: str, *, what: str) -> float:
    """Ohm of "107.8", "107.8ohm" or "12.5kohm"."""
    value, unit = _split(text, what, "107.8ohm")
    return _within(value * _factor(_OHMS, unit or "ohm", text, what, "ohm, kohm"), 0.1, 1e7, what, "ohm")


def named_amount(text: str, *, what: str) -> tuple[str, float]:
    """("sucrose", 20.0) of "sucrose=20g/L"."""
    name, equals, amount = text.partition("=")
    if not equals or not name.strip():
        raise InputError(f"{what}: {_shown(text)} is no name and amount.", hint=f"Say it as {what} sucrose=20g/L.")
    return name.strip().lower(), grams_per_litre(amount, what=f"{what} {name.strip()}")


def litres_said(litres: float, gallon: Gallon | None) -> str:
    """19 L, or 5.02 US gal."""
    return f"{litres:.3g} L" if gallon is None else f"{litres / LITRES_PER_GALLON[gallon]:.3g} {GALLON_NAMES[gallon]}"


def dose_in(grams_per_litre: float, gallon: Gallon | None) -> float:
    """In g/L, or in ounces to the gallon: in the unit that `dose_unit` names."""
    return grams_per_litre if gallon is None else grams_per_litre * LITRES_PER_GALLON[gallon] / GRAMS_PER_OUNCE


def dose_unit(gallon: Gallon | None) -> str:
    return "g/L" if gallon is None else f"oz/{GALLON_NAMES[gallon]}"


def grams_said(grams: float, *, us: bool) -> str:
    return f"{grams / GRAMS_PER_OUNCE:.3g} oz" if us else f"{grams:.0f} g" if grams >= 10 else f"{grams:.1f} g"


def celsius_said(celsius: float, *, us: bool, places: int = 1) -> str:
    return f"{fahrenheit(celsius):.{places}f} °F" if us else f"{celsius:.{places}f} °C"


def bar_said(bar: float, *, us: bool, places: int = 1) -> str:
    return f"{bar * PSI_PER_BAR:.0f} psi" if us else f"{bar:.{places}f} bar"


def _split(text: str, what: str, example: str) -> tuple[float, str]:
    text = text.strip()
    if not text:
        raise InputError(f"{what}: nothing was given.", hint=f"Say it as {example}.")
    comma = _COMMA.fullmatch(text)
    if comma is not None:
        meant = f"{comma[1]}.{comma[2]}{comma[3] or ''}"
        raise InputError(f"{what}: {_shown(text)}? Use a point for decimals: did you mean {meant}?")
    match = _AMOUNT.fullmatch(text)
    if match is None:
        raise InputError(f"{what}: {_shown(text)!r} is not a number.", hint=f"Say it as {example}.")
    return float(match[1]), _plain(match[2] or "")


def _range(text: str, what: str, one: Callable[[str], float]) -> tuple[float, float]:
    match = _RANGE.fullmatch(text.strip())
    if match is None:
        raise InputError(f"{what}: {_shown(text)} is no range.", hint=f"Say it as {what} 18-21.")
    first, last = match[1], match[2]
    unit = _AMOUNT.fullmatch(last.strip())
    if unit is not None and unit[2] and not (_AMOUNT.fullmatch(first.strip()) or unit)[2]:
        first += unit[2]
    low, high = one(first), one(last)
    if low > high:
        raise InputError(f"{what}: {_shown(text)} begins above its end: are the two swapped?")
    return low, high


def _factor(units: Mapping[str, float], unit: str, text: str, what: str, known: str) -> float:
    factor = units.get(unit)
    if factor is None:
        raise InputError(f"{what}: {_shown(text)} has no unit known here.", hint=f"Known: {known}.")
    return factor


def _within(value: float, low: float, high: float, what: str, unit: str) -> float:
    if not low <= value <= high:
        said = f"{unit}." if unit else "what can be."
        raise InputError(f"{what}: {value:.6g} {unit} is outside {low:g} to {high:g} {said}".replace("  ", " "))
    return value


def _named(what: str, compute: Callable[[], float]) -> float:
    try:
        return compute()
    except InputError as error:
        raise InputError(f"{what}: {error.message}", hint=error.hint) from None


def _plain(unit: str) -> str:
    return unit.strip().casefold().translate(_IGNORED)


def _shown(text: str) -> str:
    return text.strip()[:30]
