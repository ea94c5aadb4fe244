"""What a controller publishes of itself: where in which topic each value stands, and what it says. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from fermwatch.contracts.controller import Seen
from fermwatch.errors import ProbeMisbehaving
from fermwatch.model.degree import Output
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.units import to_canonical
from fermwatch_drivers import documents
from fermwatch_drivers.hearing import Heard
from fermwatch_drivers.mqtt.payload import LARGEST_PAYLOAD
from fermwatch_drivers.quantities import DeviceNumber, read_scalar, read_text

MEASURED, SET_POINT, DEAD_MAN, ECHO = "measured", "set-point", "dead-man", "echo"
_TEMPERATURES = {None, Unit.CELSIUS, Unit.FAHRENHEIT, Unit.KELVIN}
_SHOWN = 80  # characters of a topic


@dataclass(frozen=True, slots=True)
class StatePlace:
    """pointer: None where the whole payload is the value, as plain text."""

    topic: str
    pointer: documents.Pointer | None


@dataclass(frozen=True, slots=True)
class StateMap:
    """Where its values stand, by the names of its channels, `dead-man` and `echo`; and how they are meant.

    unit: of temperatures that say none. broken: what stands for the measured value where its probe is broken. low_c,
    high_c: what is outside was not measured.
    """

    places: Mapping[str, StatePlace]
    alarms: tuple[str, ...]
    unit: Unit
    broken: tuple[str, ...]
    low_c: float
    high_c: float

    @property
    def topics(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(place.topic for place in self.places.values()))

    @property
    def shows(self) -> frozenset[Output]:
        return frozenset(output for output in Output if output.value in self.places)


def parse_place(text: str) -> StatePlace:
    """Of "cellar/fridge/state#/beer": a topic and a JSON pointer as a fragment (RFC 6901 section 6), or a topic alone.

    Raises ValueError with a sentence.
    """
    topic, mark, fragment = text.partition("#")
    check_topic(topic)
    return StatePlace(topic, documents.parse_fragment(fragment) if mark else None)


def check_topic(topic: str) -> None:
    """Raises ValueError with a sentence where it is not one topic that a client may publish to."""
    if not topic or len(topic.encode("utf-8", "surrogatepass")) > 65_535 or not topic.isprintable():
        raise ValueError("a topic has 1 to 65535 bytes, all of them printable")
    if any(sign in topic for sign in "+#"):
        raise ValueError('it is one topic: neither "+" nor "#" stands in it')
    if topic.startswith("$"):
        raise ValueError('topics that begin with "$" are the broker\'s own')


class SaidState:
    """The values that a set of payloads says, each topic read once."""

    def __init__(self, state: StateMap, payloads: Mapping[str, bytes], heard: Heard) -> None:
        """What cannot be read is rejected, and counts as not said."""
        self._state, self._heard = state, heard
        self._payloads = payloads
        self._documents: dict[str, object] = {}

    def seen(self, at: datetime) -> Seen:
        """As what one reading showed."""
        on = {output: self._is_on(output) for output in self._state.shows}
        return Seen(
            at,
            measured_c=self._measured_c(),
            set_point_c=self._temperature_c(SET_POINT),
            on=None if not on or None in on.values() else frozenset(output for output, is_on in on.items() if is_on),
            dead_man_s=self._seconds(DEAD_MAN),
            alarms=frozenset(name for name in self._state.alarms if self._is_on(name)),
        )

    def echo(self) -> str:
        """The number that it repeats, as text; empty where it repeats none."""
        value = self._value(ECHO)
        return str(value) if isinstance(value, int | str) and not isinstance(value, bool) else ""

    def _measured_c(self) -> float | None:
        value = self._value(MEASURED)
        if value is documents.MISSING:
            return None
        if (value is None and "null" in self._state.broken) or str(value) in self._state.broken:
            self._reject("the controller says that its probe is broken or missing", MEASURED)
            return None
        celsius = self._temperature_c(MEASURED)
        low_c, high_c = self._state.low_c, self._state.high_c
        if celsius is not None and not low_c <= celsius <= high_c:
            self._reject(f"outside {low_c:g} to {high_c:g} °C", MEASURED)
            return None
        return celsius

    def _temperature_c(self, name: str) -> float | None:
        number = self._number(name)
        if number is None:
            return None
        if number.unit not in _TEMPERATURES:
            self._reject("a unit that is none of temperature", name)
            return None
        return to_canonical(number.value, number.unit or self._state.unit, Quantity.SET_POINT)

    def _seconds(self, name: str) -> float | None:
        number = self._number(name)
        return None if number is None or number.unit is not None else number.value

    def _is_on(self, name: str) -> bool | None:
        number = self._number(name)
        if number is None:
            return None
        if number.unit not in {None, Unit.SWITCH} or number.value not in {0.0, 1.0}:
            self._reject("neither on nor off", name)
            return None
        return number.value == 1.0

    def _number(self, name: str) -> DeviceNumber | None:
        value = self._value(name)
        if value is documents.MISSING:
            return None
        place = self._state.places[name]
        try:
            return read_text(str(value)) if place.pointer is None else read_scalar(value)
        except ProbeMisbehaving as error:
            self._reject(error.message, name)
            return None

    def _value(self, name: str) -> object:
        """MISSING where it has no such place, or the place is not there."""
        place = self._state.places.get(name)
        if place is None:
            return documents.MISSING
        whole = self._document(place, name)
        if whole is documents.MISSING or place.pointer is None:
            return whole
        found = documents.find(whole, place.pointer)
        if found is documents.MISSING:
            self._reject(f"nothing stands at {documents.format_pointer(place.pointer)[:_SHOWN] or 'its place'}", name)
        return found

    def _document(self, place: StatePlace, name: str) -> object:
        key = f"{place.topic}#{place.pointer is None}"
        if key not in self._documents:
            self._documents[key] = self._read(place, name)
        return self._documents[key]

    def _read(self, place: StatePlace, name: str) -> object:
        payload = self._payloads.get(place.topic)
        if payload is None:
            return documents.MISSING
        if len(payload) > LARGEST_PAYLOAD:
            self._reject(f"a payload above {LARGEST_PAYLOAD // 1024} KiB", name)
            return documents.MISSING
        try:
            return payload.decode("utf-8") if place.pointer is None else documents.load(payload)
        except UnicodeDecodeError:
            self._reject("not UTF-8 text", name)
        except ProbeMisbehaving as error:
            self._reject(error.message, name)
        return documents.MISSING

    def _reject(self, reason: str, name: str) -> None:
        place = self._state.places[name]
        self._heard.reject(reason, self._payloads.get(place.topic, b""), name)
