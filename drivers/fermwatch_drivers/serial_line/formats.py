"""A line's text to readings, in each of the formats that a board may speak. Pure; receives the time of receipt."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from fermwatch.errors import ConfigError, ProbeMisbehaving
from fermwatch.model.reading import RawReading
from fermwatch.text import clean
from fermwatch_drivers import documents
from fermwatch_drivers.hearing import Heard, Teaching
from fermwatch_drivers.moments import read_sequence, read_time
from fermwatch_drivers.quantities import read_scalar
from fermwatch_drivers.serial_line.options import Format, SerialLineOptions

T = TypeVar("T")

NUMBER_CHANNEL = "value"
_MOST_COLUMNS = 512

Fields = Mapping[str, object]  # channel -> what the line says for it


def parse_pairs(line: str) -> Fields:
    """Key=value pairs between blanks, commas or semicolons; a unit may stand apart: "t1=19.4 C; g = 1.048 SG"."""
    fields: dict[str, object] = {}
    tight = "=".join(part.strip(" \t") for part in line.split("="))
    for piece in tight.replace(";", ",").split(","):
        key = ""
        for word in piece.split():
            if "=" in word:
                key, _, value = word.partition("=")
                fields[key] = value
            elif key:
                fields[key] = f"{fields[key]} {word}"
            else:
                raise ProbeMisbehaving("not key=value pairs")
    if not fields or "" in fields:
        raise ProbeMisbehaving("not key=value pairs")
    return fields


def parse_columns(line: str, delimiter: str) -> Fields:
    """Columns by their 1-based number. Empty ones say nothing."""
    columns = line.split() if delimiter == " " else line.split(delimiter)
    return {str(number): text for number, text in enumerate(columns, start=1) if text.strip(" \t")}


def parse_json(line: str, pointers: Mapping[str, documents.Pointer]) -> Fields:
    """What each pointer finds in the line's object, and the other scalars under their key or pointer."""
    document = documents.load(line)
    if not isinstance(document, dict):
        raise ProbeMisbehaving("JSON, but not an object")
    fields = {
        channel: value
        for channel, pointer in pointers.items()
        if (value := documents.find(document, pointer)) is not documents.MISSING
    }
    known = set(pointers.values())
    for pointer, value in documents.leaves(document):
        if pointer not in known:
            fields.setdefault(json_channel(pointer), value)
    return fields


def json_channel(pointer: documents.Pointer) -> str:
    """A top-level key by its name, anything else by its pointer."""
    if len(pointer) == 1 and pointer[0] and not pointer[0].startswith("/"):
        return pointer[0]
    return documents.format_pointer(pointer)


def json_pointer(channel: str) -> documents.Pointer:
    """The pointer that a channel's name means. Raises ValueError."""
    return documents.parse_pointer(channel) if channel.startswith("/") else (channel,)


@dataclass(frozen=True, slots=True)
class LineReader:
    """Reads one line after another into what was heard."""

    split: Callable[[str], Fields]
    time_field: str | None
    sequence_field: str | None
    teaching: Teaching

    def read(self, line: bytes, received_at: datetime, heard: Heard) -> None:
        """Append the line's readings, or the reason why it has none."""
        try:
            fields = self.split(line.decode("utf-8"))
        except UnicodeDecodeError:
            heard.reject("not UTF-8 text", line)
            return
        except ProbeMisbehaving as error:
            heard.reject(error.message, line)
            return
        measured_at = self._own(fields, self.time_field, read_time, line, heard)
        sequence = self._own(fields, self.sequence_field, read_sequence, line, heard)
        for name, said in fields.items():
            channel = None if name in (self.time_field, self.sequence_field) else self.teaching.channel(name)
            if channel is None:
                continue
            try:
                value, unit = read_scalar(said)
            except ProbeMisbehaving as error:
                if self.teaching.is_bound(channel):
                    heard.reject(error.message, line, channel)
                continue
            self.teaching.heard(channel)
            heard.readings.append(RawReading(channel, value, received_at, unit, measured_at, sequence))

    def _own(
        self, fields: Fields, name: str | None, read: Callable[[object], T], line: bytes, heard: Heard
    ) -> T | None:
        """The board's own time or number; an unreadable one is counted, and the readings stand without it."""
        if name is None or name not in fields:
            return None
        try:
            return read(fields[name])
        except ProbeMisbehaving as error:
            heard.reject(error.message, line, clean(name))
            return None


def reader_for(source: str, options: SerialLineOptions, channels: Sequence[str]) -> LineReader:
    """The reader that the options ask for. Raises ConfigError where a channel's or field's name cannot be meant."""
    names = [*channels, *filter(None, (options.time_field, options.sequence_field))]
    for name in names:
        _check(source, options.format, name)
    return LineReader(
        _splitter(options, names),
        options.time_field,
        options.sequence_field,
        Teaching(clean(name) for name in channels),
    )


def _check(source: str, form: Format, name: str) -> None:
    hints = {
        Format.JSON: 'Use a key of the object, or a JSON pointer as "/probes/0/temp".',
        Format.PAIRS: 'Use the word in front of the "=".',
        Format.COLUMNS: 'Columns are counted from "1".',
        Format.NUMBER: f'A line that is a bare number has the one channel "{NUMBER_CHANNEL}".',
    }
    if not _can_be_meant(form, name):
        message = f'"{clean(name)}" cannot be a channel where lines are {form}.'
        raise ConfigError(message, key=source, hint=hints[form])


def _can_be_meant(form: Format, name: str) -> bool:
    if form is Format.JSON:
        try:
            return json_pointer(name) != ("",)
        except ValueError:
            return False
    if form is Format.PAIRS:
        return bool(name) and not any(character in "=,;" or character.isspace() for character in name)
    if form is Format.COLUMNS:
        return name.isascii() and name.isdecimal() and name[0] != "0" and int(name) <= _MOST_COLUMNS
    return name == NUMBER_CHANNEL


def _splitter(options: SerialLineOptions, names: Iterable[str]) -> Callable[[str], Fields]:
    if options.format is Format.JSON:
        pointers = {name: json_pointer(name) for name in names}
        return lambda line: parse_json(line, pointers)
    if options.format is Format.PAIRS:
        return parse_pairs
    if options.format is Format.COLUMNS:
        return lambda line: parse_columns(line, options.delimiter)
    return lambda line: {NUMBER_CHANNEL: line}
