"""The likely slip behind a number that a brewer typed: one sentence to show, or None where the number can be meant.

Takes what was typed, as text or number; knows nothing of where it was typed.
"""

import math
import re

from fermwatch.science.extract import PLATO_HIGH, SG_HIGH, SG_LOW, plato_to_sg, sg_to_plato

SAMPLE_LOW_C, SAMPLE_HIGH_C = 0.0, 40.0
BRIX_HIGH = 40.0


def gravity_slip(typed: str | float) -> str | None:
    """Return the slip in a specific gravity, 0.990..1.179."""
    value = _number(typed, "gravity", "1.048")
    if isinstance(value, str) or SG_LOW <= value <= SG_HIGH:
        return value if isinstance(value, str) else None
    meant = _gravity_meant(value)
    if meant is not None:
        return f"{_shown(typed)}? Did you mean {meant:.3f}?"
    if SG_HIGH < value <= PLATO_HIGH:
        return f"{_shown(typed)} looks like °Plato or °Brix: as a specific gravity that is {plato_to_sg(value):.4f}."
    return f"{_shown(typed)} is no gravity of wort or beer, which lies between {SG_LOW:.3f} and {SG_HIGH:.3f}."


def _gravity_meant(value: float) -> float | None:
    """Points, a lost decimal point, a lost zero, a lost leading one, a sign: the gravity that it stands for."""
    if value < 0.0:
        return -value if SG_LOW <= -value <= SG_HIGH else None
    candidates = (
        (value / 1000.0, SG_LOW * 1000.0 <= value <= SG_HIGH * 1000.0),
        (1.0 + value / 1000.0, PLATO_HIGH < value <= 150.0),
        (1.0 + (value - 1.0) / 10.0, SG_HIGH < value < 2.0),
        (1.0 + value, 0.0 < value <= SG_HIGH - 1.0),
    )
    return next((meant for meant, likely in candidates if likely), None)


def pair_slip(original: str | float, final: str | float) -> str | None:
    """Return the slip in an original and a final gravity, taken together."""
    slip = gravity_slip(original) or gravity_slip(final)
    if slip is not None:
        return slip
    if float(final) > float(original):
        return f"The final gravity {float(final):.3f} is above the original {float(original):.3f}: are the two swapped?"
    return None


def brix_slip(typed: str | float) -> str | None:
    """Return the slip in a refractometer reading, 0..40 °Bx."""
    value = _number(typed, "refractometer reading", "12.4")
    if isinstance(value, str):
        return value
    if 1.005 <= value <= SG_HIGH and _decimals(typed) >= 3:
        return f"{_shown(typed)} looks like a specific gravity: that is {sg_to_plato(value):.1f} °Bx."
    if SG_LOW * 1000.0 <= value <= SG_HIGH * 1000.0:
        return f"{_shown(typed)} looks like a specific gravity: that is {sg_to_plato(value / 1000.0):.1f} °Bx."
    if 0.0 <= value <= BRIX_HIGH:
        return None
    if -BRIX_HIGH <= value < 0.0:
        return f"{_shown(typed)} °Bx is below water: did you mean {-value:g}, or is the instrument's zero off?"
    return f"{_shown(typed)} °Bx is no wort or beer, which lies between 0 and {BRIX_HIGH:g} °Bx."


def temperature_slip(
    typed: str | float, *, low_c: float = SAMPLE_LOW_C, high_c: float = SAMPLE_HIGH_C, fahrenheit: bool = False
) -> str | None:
    """Return the slip in a temperature that should lie in `low_c`..`high_c`; typed in °F where `fahrenheit`."""
    value = _number(typed, "temperature", "68" if fahrenheit else "20.5")
    if isinstance(value, str):
        return value
    unit, other = ("°F", "°C") if fahrenheit else ("°C", "°F")
    celsius = (value - 32.0) / 1.8 if fahrenheit else value
    if low_c <= celsius <= high_c:
        return None
    other_celsius = value if fahrenheit else (value - 32.0) / 1.8
    if low_c <= other_celsius <= high_c:
        said = (
            f"write {value:g}C: that is {value * 1.8 + 32.0:.0f} °F"
            if fahrenheit
            else f"that is {other_celsius:.1f} °C"
        )
        return f"{_shown(typed)} {unit}? If you meant {other}, {said}."
    if low_c <= value - 273.15 <= high_c:
        meant = (value - 273.15) * 1.8 + 32.0 if fahrenheit else value - 273.15
        return f"{_shown(typed)} looks like kelvin: that is {meant:.1f} {unit}."
    low, high = (low_c * 1.8 + 32.0, high_c * 1.8 + 32.0) if fahrenheit else (low_c, high_c)
    return f"{_shown(typed)} {unit} is outside {low:g} to {high:g} {unit}: measure again, or cool the sample."


def _number(typed: str | float, quantity: str, example: str) -> float | str:
    """The number typed, or the sentence that says why it is none."""
    if not isinstance(typed, str):
        return float(typed) if math.isfinite(typed) else f"{typed} is no {quantity}: give a number like {example}."
    text = typed.strip()
    if not text:
        return f"No {quantity} was given: give a number like {example}."
    try:
        value = float(text)
    except ValueError:
        return _not_a_number(text, quantity, example)
    return value if math.isfinite(value) else f"{text[:20]} is no {quantity}: give a number like {example}."


def _not_a_number(text: str, quantity: str, example: str) -> str:
    if re.fullmatch(r"[+-]?\d{0,8},\d{1,8}", text, re.ASCII):
        return f"{text}? Use a point for decimals: did you mean {text.replace(',', '.')}?"
    return f"{text[:20]!r} is not a number: give the {quantity} like {example}."


def _shown(typed: str | float) -> str:
    return typed.strip()[:20] if isinstance(typed, str) else f"{typed:g}"


def _decimals(typed: str | float) -> int:
    return len(_shown(typed).partition(".")[2])
