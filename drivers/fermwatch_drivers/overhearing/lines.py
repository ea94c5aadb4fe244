"""A line of a board that nobody configured: in which format it is written, and what numbers are in it. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass

from fermwatch.contracts.overhearing import SaidField
from fermwatch.errors import ProbeMisbehaving
from fermwatch.model.quantity import Unit
from fermwatch_drivers.quantities import read_scalar, read_text
from fermwatch_drivers.serial_line import formats

MOST_FIELDS = 32
_DELIMITERS = (";", "\t", ",", " ")
_PRINTED = frozenset(b"\t\r\n") | frozenset(range(0x20, 0x7F))
_LEAST_PRINTED = 0.9  # a wrong speed turns about half of all characters into others
_LOOKED_AT = 4096  # bytes


@dataclass(frozen=True, slots=True)
class ReadLine:
    """settings: what a source would say of the format."""

    settings: tuple[tuple[str, str], ...]
    fields: tuple[SaidField, ...]


def looks_like_text(heard: bytes) -> bool:
    """Whether it was written by a program that prints lines, rather than heard at a wrong speed."""
    sample = heard[:_LOOKED_AT]
    if not sample:
        return False
    try:
        sample.decode("utf-8")
        foreign = sum(byte >= 0x80 for byte in sample)
    except UnicodeDecodeError:
        foreign = 0
    return (sum(byte in _PRINTED for byte in sample) + foreign) / len(sample) >= _LEAST_PRINTED


def read_line(line: bytes) -> ReadLine | None:
    """The first format in which numbers are found; None where there are none."""
    try:
        text = line.decode("utf-8").strip()
    except UnicodeDecodeError:
        return None
    for read in (_json, _pairs, _number, _columns):
        found = read(text)
        if found is not None and found.fields:
            return found
    return None


def _json(text: str) -> ReadLine | None:
    if not text.startswith("{"):
        return None
    try:
        said = formats.parse_json(text, {})
    except ProbeMisbehaving:
        return None
    return ReadLine((("format", "json"),), fields_of(said, {name: name for name in said}))


def _pairs(text: str) -> ReadLine | None:
    if "=" not in text:
        return None
    try:
        said = formats.parse_pairs(text)
    except ProbeMisbehaving:
        return None
    return ReadLine((("format", "pairs"),), fields_of(said, {name: name for name in said}))


def _number(text: str) -> ReadLine | None:
    fields = fields_of({formats.NUMBER_CHANNEL: text}, {formats.NUMBER_CHANNEL: ""})
    return ReadLine((("format", "number"),), fields) if fields else None


def _columns(text: str) -> ReadLine | None:
    """A column is named by the words in front of it, as in "T1: 19.4 C"; the one behind it may be its unit."""
    delimiter = next((sign for sign in _DELIMITERS if sign in text), None)
    if delimiter is None:
        return None
    said = formats.parse_columns(text, delimiter)
    names, word = {}, ""
    for channel, value in said.items():
        names[channel] = word
        word = str(value) if not _numeric(value) else ""
    fields = fields_of(said, names)
    fields = tuple(_with_unit_behind(field, said) for field in fields)
    return ReadLine((("format", "columns"), ("delimiter", delimiter)), fields)


def _with_unit_behind(field: SaidField, said: formats.Fields) -> SaidField:
    behind = unit_named(said.get(str(int(field.channel) + 1)))
    return SaidField(field.channel, field.name, field.value, field.unit, field.unit_beside or behind)


def _numeric(value: object) -> bool:
    try:
        read_scalar(value)
    except ProbeMisbehaving:
        return False
    return True


def fields_of(said: Mapping[str, object], names: Mapping[str, str]) -> tuple[SaidField, ...]:
    """The numbers among what was said: by channel, each with the name that may tell what it is."""
    found: list[SaidField] = []
    for channel, value in said.items():
        if len(found) == MOST_FIELDS or not channel:
            continue
        try:
            number, unit = read_scalar(value)
        except ProbeMisbehaving:
            continue
        found.append(SaidField(channel, names[channel], number, unit, _unit_beside(channel, said)))
    return tuple(found)


def _unit_beside(channel: str, said: Mapping[str, object]) -> Unit | None:
    """As in {"temp": 66.2, "unit": "F"} or {"temp": 66.2, "temp_unit": "F"}: of the same object alone."""
    parent, _, own = channel.rpartition("/")
    for other, value in said.items():
        other_parent, _, key = other.rpartition("/")
        key = key.lower()
        if other_parent != parent or other == channel or not ("unit" in key or key == "uom"):
            continue
        whose = key.replace("units", "").replace("unit", "").replace("uom", "").strip("_- ")
        if not whose or whose in own.lower():
            return unit_named(value)
    return None


def unit_named(value: object) -> Unit | None:
    """The unit that a text names, as "°F"; None for anything else."""
    if not isinstance(value, str) or not value.strip():
        return None
    try:
        return read_text(f"0 {value.strip()}").unit
    except ProbeMisbehaving:
        return None
