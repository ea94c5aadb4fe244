"""Whose line is wrong: a validation error turned into one sentence with file, line, key and remedy."""

import difflib
import re
import typing
from collections.abc import Mapping, Sequence
from pathlib import Path

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails, PydanticCustomError

from fermwatch.config.lines import Location, dotted, leaves, line_of
from fermwatch.errors import ConfigError
from fermwatch.text import clean

_MISPLACED = "misplaced"


def explain(
    error: ValidationError, model: type[BaseModel], file: Path | None, text: str, prefix: Location = ()
) -> ConfigError:
    """One mistake as a ConfigError. `prefix` says where `model` stands in the file, as ("source", 0).

    An unknown key comes first: where one was mistyped, it is also missing.
    """
    mistakes = error.errors()
    first = next((one for one in mistakes if one["type"] == "extra_forbidden"), mistakes[0])
    inner: Location = [part for part in first["loc"] if not _is_tag(part)]
    location = [*prefix, *inner, *first.get("ctx", {}).get("place", ())]
    key = dotted(location)
    line = line_of(text, location)
    if first["type"] == "extra_forbidden":
        return ConfigError("unknown key.", file=file, line=line, key=key, hint=_allowed(model, inner))
    if first["type"] == "missing":
        why = _sentence(model, inner)
        return ConfigError("is missing.", file=file, line=line, key=key, hint=why)
    return ConfigError(_message(first), file=file, line=line, key=key, hint=_sentence(model, inner))


def refuse_switches(
    said: Mapping[str, object], taken: BaseModel, file: Path | None, text: str, prefix: Location = ()
) -> None:
    """ConfigError for true or false where a number was wanted: the library takes them for 1 and 0."""
    for inner, value in leaves(said):
        if isinstance(value, bool) and _is_number(_taken_at(taken, inner)):
            location = [*prefix, *inner]
            wrong = f"must be a number (it says {str(value).lower()})."
            hint = _sentence(type(taken), inner)
            raise ConfigError(wrong, file=file, line=line_of(text, location), key=dotted(location), hint=hint)


def _taken_at(taken: object, location: Location) -> object:
    for part in location:
        if isinstance(part, int):
            taken = taken[part] if isinstance(taken, Sequence) and part < len(taken) else None
        else:
            taken = taken.get(part) if isinstance(taken, Mapping) else getattr(taken, part, None)
    return taken


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def misplaced(message: str, *place: str | int) -> PydanticCustomError:
    """What a validator raises: the whole sentence, and where below what it validates the mistake is."""
    return PydanticCustomError(_MISPLACED, "{message}", {"message": message, "place": place})


def _message(mistake: ErrorDetails) -> str:
    """Said of the value alone, as a sentence: its place stands before it."""
    given, context = mistake.get("input"), mistake.get("ctx", {})
    shown = f" (it says {clean(repr(given), 60)})" if isinstance(given, str | int | float | bool) else ""
    message = re.sub(r"^(Input|String|Value) should", "must", mistake["msg"].removeprefix("Value error, "))
    if mistake["type"] == _MISPLACED:
        message, shown = mistake["msg"], ""
    elif mistake["type"] == "enum" and isinstance(given, str):
        near = difflib.get_close_matches(given, re.findall(r"'([^']+)'", context["expected"]), n=1)
        shown += f"; did you mean {near[0]}?" if near else ""
    sentence = f"{message}{shown}"
    return sentence if sentence.endswith(("?", ".")) else f"{sentence}."


def _is_tag(part: str | int) -> bool:
    """Pydantic puts names of union members and validators into a location; keys of ours never look like them."""
    return isinstance(part, str) and ("[" in part or part in {"float", "int", "str", "bool"})


def _model_at(model: type[BaseModel], location: Location) -> type[BaseModel] | None:
    current: type[BaseModel] | None = model
    for part in location:
        if isinstance(part, int) or current is None:
            continue
        field = current.model_fields.get(part)
        current = None if field is None else _inner_model(field.annotation)
    return current


def _inner_model(annotation: object) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for argument in typing.get_args(annotation):
        found = _inner_model(argument)
        if found is not None:
            return found
    return None


def _allowed(model: type[BaseModel], location: Location) -> str:
    holder = _model_at(model, location[:-1])
    if holder is None:
        return ""
    keys = list(holder.model_fields)
    near = difflib.get_close_matches(str(location[-1]), keys, n=1)
    meant = f"Did you mean {near[0]}? " if near else ""
    return f"{meant}Allowed here: {', '.join(keys)}."


def _sentence(model: type[BaseModel], location: Location) -> str:
    names = [part for part in location if isinstance(part, str)]
    if not names:
        return ""
    holder = _model_at(model, names[:-1])
    field = holder.model_fields.get(names[-1]) if holder is not None else None
    return field.description or "" if field is not None else ""
