"""Frozen dataclasses to plain JSON data and back, by their type hints alone.

Decoding is strict: a wrong type, a missing or unknown key, a number that is not finite or not `Within`, an instant
without a time zone is a Malformed that names the place. Stored rows may hold keys that a newer version added; those are
passed over.
"""

import json
import math
import types
import typing
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields, is_dataclass
from datetime import UTC, datetime
from enum import Enum
from functools import cache
from typing import Any, TypeVar

Json = Any  # what json.loads returns: objects, lists, texts, numbers, truths, None
ValueT = TypeVar("ValueT")


class Malformed(ValueError):
    """Plain data that cannot be meant so. `place` is the key, dotted; `why` what is wrong with it, without a dot."""

    def __init__(self, place: str, why: str) -> None:
        super().__init__(f"{place}: {why}")
        self.place, self.why = place, why


class UnknownWord(Malformed):
    """A word where only certain words can be meant: a newer version may know it."""


@dataclass(frozen=True, slots=True)
class Within:
    """The range of a number, as `Annotated[float, Within(0.0, 100.0)]`."""

    low: float
    high: float


def to_plain(value: object) -> Json:
    """JSON data for a value of the model: dataclasses become objects, instants ISO-8601, enums their value."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: to_plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, Mapping):
        return {str(key): to_plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [to_plain(item) for item in value]
    return value


def from_plain(shape: type[ValueT], plain: object, *, tolerant: bool = False) -> ValueT:
    """A `shape` from JSON data. `tolerant` passes over unknown keys. Raises Malformed."""
    return typing.cast("ValueT", _decode(shape, plain, "", tolerant))


def to_text(value: object) -> str:
    return json.dumps(to_plain(value), separators=(",", ":"), allow_nan=False)


def from_text(shape: type[ValueT], text: str) -> ValueT:
    """A `shape` from a stored row. Raises Malformed."""
    try:
        plain = json.loads(text)
    except ValueError as error:
        raise Malformed("payload", f"not JSON: {error}") from None
    return from_plain(shape, plain, tolerant=True)


@cache
def _hints(shape: type) -> dict[str, Any]:
    return typing.get_type_hints(shape, include_extras=True)


def _decode(shape: object, plain: object, place: str, tolerant: bool) -> object:
    if shape is Any:
        return plain
    origin = typing.get_origin(shape)
    if origin is typing.Annotated:
        return _decode_annotated(shape, plain, place, tolerant)
    if origin in {types.UnionType, typing.Union}:
        return _decode_union(shape, plain, place, tolerant)
    if origin is tuple:
        return _decode_tuple(shape, plain, place, tolerant)
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return _decode_mapping(shape, plain, place, tolerant)
    if is_dataclass(shape):
        return _decode_dataclass(typing.cast("type", shape), plain, place, tolerant)
    return _decode_scalar(typing.cast("type", shape), plain, place)


def _decode_union(shape: object, plain: object, place: str, tolerant: bool) -> object:
    options = typing.get_args(shape)
    if plain is None and types.NoneType in options:
        return None
    failures = []
    for option in options:
        if option is types.NoneType:
            continue
        try:
            return _decode(option, plain, place, tolerant)
        except Malformed as failure:
            failures.append(failure)
    raise failures[0]


def _decode_annotated(shape: object, plain: object, place: str, tolerant: bool) -> object:
    bare, *said = typing.get_args(shape)
    value = _decode(bare, plain, place, tolerant)
    for within in said:
        if isinstance(within, Within) and not (isinstance(value, int | float) and within.low <= value <= within.high):
            raise Malformed(place, f"{value:g} is outside {within.low:g} to {within.high:g}")
    return value


def _decode_tuple(shape: object, plain: object, place: str, tolerant: bool) -> tuple[Any, ...]:
    if not isinstance(plain, list | tuple):
        raise _expected("a list", plain, place)
    arguments = typing.get_args(shape)
    if len(arguments) == 2 and arguments[1] is Ellipsis:
        arguments = (arguments[0],) * len(plain)
    if len(arguments) != len(plain):
        raise _expected(f"a list of {len(arguments)}", plain, place)
    return tuple(
        _decode(argument, item, f"{place}[{index}]", tolerant)
        for index, (argument, item) in enumerate(zip(arguments, plain, strict=True))
    )


def _decode_mapping(shape: object, plain: object, place: str, tolerant: bool) -> dict[str, Any]:
    if not isinstance(plain, Mapping):
        raise _expected("an object", plain, place)
    _, argument = typing.get_args(shape)
    return {str(key): _decode(argument, item, _inside(place, key), tolerant) for key, item in plain.items()}


def _decode_dataclass(shape: type, plain: object, place: str, tolerant: bool) -> object:
    if not isinstance(plain, Mapping):
        raise _expected("an object", plain, place)
    hints = _hints(shape)
    unknown = [str(key) for key in plain if key not in hints]
    if unknown and not tolerant:
        raise Malformed(_inside(place, unknown[0]), "there is no such key")
    taken = {}
    for field in fields(shape):
        if field.name in plain:
            taken[field.name] = _decode(hints[field.name], plain[field.name], _inside(place, field.name), tolerant)
        elif field.default is MISSING and field.default_factory is MISSING:
            raise Malformed(_inside(place, field.name), "is missing")
    return shape(**taken)


def _decode_scalar(shape: type, plain: object, place: str) -> object:
    if shape is float:
        return _number(plain, place)
    if shape is datetime:
        return _instant(plain, place)
    if issubclass(shape, Enum):
        try:
            return shape(plain)
        except ValueError:
            allowed = ", ".join(str(member.value) for member in shape)
            wrong = _expected(f"one of {allowed}", plain, place)
            raise (UnknownWord(wrong.place, wrong.why) if isinstance(plain, str) else wrong) from None
    if type(plain) is not shape:
        words = {str: "text", int: "a whole number", bool: "true or false"}
        raise _expected(words.get(shape, shape.__name__), plain, place)
    return plain


def _number(plain: object, place: str) -> float:
    if isinstance(plain, bool) or not isinstance(plain, int | float):
        raise _expected("a number", plain, place)
    try:
        number = float(plain)
    except OverflowError:
        raise _expected("a finite number", "a huge one", place) from None
    if not math.isfinite(number):
        raise _expected("a finite number", plain, place)
    return number


def _instant(plain: object, place: str) -> datetime:
    if not isinstance(plain, str):
        raise _expected("an instant as ISO-8601 text", plain, place)
    try:
        at = datetime.fromisoformat(plain)
        if at.tzinfo is not None:
            return at.astimezone(UTC)
    except (ValueError, OverflowError):
        raise _expected("an instant as ISO-8601 text", plain, place) from None
    raise _expected("an instant with its time zone", plain, place)


def _inside(place: str, key: object) -> str:
    return f"{place}.{key}" if place else str(key)


def _expected(what: str, plain: object, place: str) -> Malformed:
    shown = f"{plain!r:.60}"
    return Malformed(place or "payload", f"expected {what}, got {shown}")
