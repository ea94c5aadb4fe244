"""A message's payload to readings. Pure; receives the time of receipt."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar
from urllib.parse import quote

from fermwatch.errors import ConfigError, ProbeMisbehaving
from fermwatch.model.quantity import Unit
from fermwatch.model.reading import RawReading
from fermwatch.text import clean
from fermwatch_drivers import documents
from fermwatch_drivers.hearing import Heard, Teaching
from fermwatch_drivers.moments import read_sequence, read_time
from fermwatch_drivers.mqtt.options import MqttOptions, Payload
from fermwatch_drivers.mqtt.topic import NamedTopic, parse_topic
from fermwatch_drivers.quantities import read_scalar, read_text

LARGEST_PAYLOAD = 64 * 1024  # bytes
_FRAGMENT_SAFE = "/~!$&'()*+,;=:@?"  # what RFC 3986 section 3.5 lets stand in a fragment as it is

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Arrival:
    """A message as it came in.

    payload: cut short where `size` says that it was longer. packet_id: None where nothing is to be acknowledged.
    """

    topic: str
    payload: bytes
    size: int
    received_at: datetime
    retained: bool
    redelivered: bool
    packet_id: int | None = None


@dataclass(frozen=True, slots=True)
class PayloadReader:
    """Reads one message after another into what was heard.

    pointers: by the channel of the topic, the channels within its JSON and where in it they are.
    """

    topic: NamedTopic
    kind: Payload
    pointers: Mapping[str, Mapping[documents.Pointer, str]]
    time_pointer: documents.Pointer | None
    sequence_pointer: documents.Pointer | None
    teaching: Teaching

    def read(self, arrival: Arrival, heard: Heard) -> None:
        """Append the message's readings, or the reason why it has none."""
        prefix = self.topic.channel(arrival.topic)
        if prefix is None:
            heard.reject("a topic that was not asked for", arrival.topic)
        elif arrival.size > LARGEST_PAYLOAD:
            heard.reject(f"a payload above {LARGEST_PAYLOAD // 1024} KiB", arrival.payload, clean(prefix))
        elif self.kind is Payload.NUMBER:
            self._number(prefix, arrival, heard)
        else:
            self._json(prefix, arrival, heard)

    def _number(self, prefix: str, arrival: Arrival, heard: Heard) -> None:
        channel = self.teaching.channel(prefix)
        if channel is None:
            return
        try:
            value, unit = read_text(arrival.payload.decode("utf-8"))
        except UnicodeDecodeError:
            heard.reject("not UTF-8 text", arrival.payload, channel)
        except ProbeMisbehaving as error:
            heard.reject(error.message, arrival.payload, channel)
        else:
            self.teaching.heard(channel)
            heard.readings.append(_reading(channel, value, unit, arrival))

    def _json(self, prefix: str, arrival: Arrival, heard: Heard) -> None:
        try:
            document = documents.load(arrival.payload)
        except ProbeMisbehaving as error:
            heard.reject(error.message, arrival.payload, clean(prefix))
            return
        measured_at = self._own(document, self.time_pointer, read_time, arrival, heard)
        sequence = self._own(document, self.sequence_pointer, read_sequence, arrival, heard)
        for channel, said in self._channels(prefix, document):
            try:
                value, unit = read_scalar(said)
            except ProbeMisbehaving as error:
                if self.teaching.is_bound(channel):
                    heard.reject(error.message, arrival.payload, channel)
                continue
            self.teaching.heard(channel)
            heard.readings.append(_reading(channel, value, unit, arrival, measured_at, sequence))

    def _channels(self, prefix: str, document: object) -> list[tuple[str, object]]:
        """The wanted channels of a document with what it says for them: the bound ones first."""
        name = self.teaching.name(prefix)
        bound = self.pointers.get(name, {})
        found = [
            (channel, value)
            for pointer, channel in bound.items()
            if (value := documents.find(document, pointer)) is not documents.MISSING
        ]
        for pointer, value in documents.leaves(document):
            if pointer in bound or pointer in (self.time_pointer, self.sequence_pointer):
                continue
            channel = self.teaching.channel(_channel(prefix, pointer))
            if channel is not None:
                found.append((channel, value))
        return found

    def _own(
        self,
        document: object,
        pointer: documents.Pointer | None,
        read: Callable[[object], T],
        arrival: Arrival,
        heard: Heard,
    ) -> T | None:
        """The device's own time or number; an unreadable one is counted, and the readings stand without it."""
        value = documents.MISSING if pointer is None else documents.find(document, pointer)
        if value is documents.MISSING:
            return None
        try:
            return read(value)
        except ProbeMisbehaving as error:
            heard.reject(error.message, arrival.payload, clean(arrival.topic))
            return None


def _reading(
    channel: str,
    value: float,
    unit: Unit | None,
    arrival: Arrival,
    measured_at: datetime | None = None,
    sequence: int | None = None,
) -> RawReading:
    return RawReading(
        channel,
        value,
        arrival.received_at,
        unit,
        measured_at,
        sequence,
        redelivered=arrival.redelivered,
        message_id=arrival.packet_id,
        retained=arrival.retained,
    )


def reader_for(source: str, options: MqttOptions, channels: Sequence[str]) -> PayloadReader:
    """The reader that the options ask for. Raises ConfigError where a channel's name cannot be meant."""
    topic = parse_topic(options.topic)
    pointers: dict[str, dict[documents.Pointer, str]] = {}
    for channel in channels:
        prefix, mark, fragment = channel.partition("#")
        if not topic.can_give(prefix):
            raise _misnamed(source, channel, options, f"it cannot come from the topic {clean(options.topic)}")
        if mark and options.payload is Payload.NUMBER:
            raise _misnamed(source, channel, options, 'the part after "#" needs payload = "json"')
        try:
            pointers.setdefault(prefix, {})[documents.parse_fragment(fragment)] = channel
        except ValueError as error:
            raise _misnamed(source, channel, options, str(error)) from None
    return PayloadReader(
        topic,
        options.payload,
        pointers,
        None if options.time_pointer is None else documents.parse_pointer(options.time_pointer),
        None if options.sequence_pointer is None else documents.parse_pointer(options.sequence_pointer),
        Teaching(channels),
    )


def _channel(prefix: str, pointer: documents.Pointer) -> str:
    """A leaf's channel: the pointer in its URI fragment form (RFC 6901 section 6), nothing for the whole document."""
    if not pointer:
        return prefix
    fragment = quote(documents.format_pointer(pointer), safe=_FRAGMENT_SAFE, errors="backslashreplace")
    return f"{prefix}#{fragment}"


def _misnamed(source: str, channel: str, options: MqttOptions, reason: str) -> ConfigError:
    levels = "/".join(level for level in options.topic.split("/") if level.startswith("{")) or "value"
    shape = f"{levels}#/key" if options.payload is Payload.JSON else levels
    return ConfigError(f'"{clean(channel)}" cannot be a channel: {reason}.', key=source, hint=f"A channel is {shape}.")
