"""What people did to a beer and measured of it, in words."""

from collections.abc import Callable, Mapping
from datetime import datetime

from fermwatch.brewing.too_early import chance_words
from fermwatch.model import amounts
from fermwatch.model.batch import Event, EventKind, GravityMeasurement
from fermwatch.model.event_data import INSTANTS, OPENED, VENTED
from fermwatch.saying import intended, planned, words
from fermwatch.saying.voice import Voice
from fermwatch.science.packages import PACKAGES

_FIGURES: Mapping[str, Callable[[float], str]] = {
    "_g_per_l": amounts.dose,
    "_grams": lambda grams: amounts.mass(grams, None),
    "_c": lambda celsius: amounts.temperature(celsius, None),
    "_sg": amounts.gravity,
    "_l": amounts.volume,
    "_bar": amounts.pressure,
    "_points": amounts.points,
}


_COLD = {OPENED: "one opened cold", VENTED: "the gas let out of all, cold"}


_WITHOUT: Mapping[EventKind, str] = {
    EventKind.PACKAGED: "The beer counts as in its fermenter again, and is judged for bottling anew.",
    EventKind.FORCED_FERMENT: "Nothing shows any more where this beer ends.",
    EventKind.DIACETYL_TEST: "It counts as not tested.",
    EventKind.REST: "The yeast's range holds again.",
    EventKind.RAMP: "The yeast's range holds again.",
    EventKind.CRASH: "The yeast's range holds again, and cold is an alarm.",
    EventKind.TRANSFER: "The clock of steadiness runs as if it had not been racked.",
    **dict.fromkeys(
        (EventKind.DRY_HOP, EventKind.SUGAR, EventKind.FRUIT, EventKind.BLEND),
        "Nothing waits any more for what it set free to ferment: void it only if nothing went in.",
    ),
}


def without(entry: Event | GravityMeasurement) -> str:
    """What follows where it is voided; empty where nothing rests on it."""
    if isinstance(entry, GravityMeasurement):
        return "Gravity, forecast and the verdict are judged anew without it."
    return _WITHOUT.get(entry.kind, "")


def measurement_words(one: GravityMeasurement, voice: Voice) -> str:
    gas = "" if one.degassed else ", not degassed"
    void = " VOIDED" if one.voided else ""
    spread = voice.gravity_spread(round(one.sd_points, 1))
    return f"{voice.gravity_as_read(one.gravity_sg)} {spread} by {one.instrument}{gas}{void}"


def event_words(event: Event, now: datetime, voice: Voice) -> str:
    """A kind, its figures with their units, and what was said of it."""
    void = " VOIDED" if event.voided else ""
    if event.kind is EventKind.PLAN:
        return f"{planned.event_words(event, voice)}{void}"
    if event.kind is EventKind.OBSERVATION and (cold := _COLD.get(str(event.data.get("what")))):
        how = "" if (gushed := event.data.get("gushed")) is None else ", gushed" if gushed else ", calm"
        if isinstance(warm_days := event.data.get("warm_days"), int | float):
            how += f", after {words.days(warm_days)} warm"
        return f"{cold}{how}{f': {voice.text(event.text, 200)}' if event.text else ''}{void}"
    if declared := intended.event_words(event, now, voice):
        return f"{declared}{f': {voice.text(event.text, 200)}' if event.text else ''}{void}"
    figures = ", ".join(figure(key, value) for key, value in event.data.items() if value != "")
    said = voice.text(": ".join(part for part in (figures, event.text) if part), 200)
    return f"{event.kind}{f' {said}' if said else ''}{void}"


def act_words(event: Event, now: datetime, voice: Voice) -> str:
    """As a sentence tells of it among others: what somebody wrote down is told in his words."""
    if event.kind in {EventKind.NOTE, EventKind.OBSERVATION} and event.text:
        return f"{event.kind}: {voice.text(event.text, 200).rstrip('.')}"
    return event_words(event, now, voice)


def _instant(value: str) -> str:
    try:
        return amounts.instant(datetime.fromisoformat(value))
    except (ValueError, OverflowError):
        return value  # as somebody wrote it past the desk


def figure(key: str, value: float | str | bool) -> str:
    """One figure of an event by its key, which ends with its unit; quantities are marked."""
    if isinstance(value, bool):
        return key.replace("_", " ") if value else f"not {key.replace('_', ' ')}"
    if key == "package" and value in PACKAGES:
        return PACKAGES[str(value)].name
    if isinstance(value, str):
        return f"{key.replace('_', ' ')} {_instant(value)}" if key in INSTANTS else value
    if key == "chance_over_limit":
        return f"chance over its limit {chance_words(value)}"
    for ending, said in _FIGURES.items():
        if f"_{key}".endswith(ending):
            name = f"_{key}".removesuffix(ending).replace("_", " ").removeprefix(" gravity")
            return f"{name} {said(value)}".strip()
    return f"{value:g} {key.replace('_', ' ')}"
