"""JSON from a device, and the pointers into it (RFC 6901)."""

import json
from collections.abc import Iterator
from typing import Final, Never
from urllib.parse import unquote

from fermwatch.errors import ProbeMisbehaving

MISSING: Final = object()
Pointer = tuple[str, ...]

_DEEPEST, _MOST_LEAVES = 8, 64


def _refuse_constant(_name: str) -> Never:
    raise ValueError("NaN and Infinity are not JSON")


def load(text: str | bytes) -> object:
    """Parse one JSON text; NaN, Infinity, endless nesting and endless digits are refused.

    Raises ProbeMisbehaving.
    """
    try:
        document: object = json.loads(text, parse_constant=_refuse_constant)
    except RecursionError:
        raise ProbeMisbehaving("JSON nested too deeply") from None
    except ValueError:  # bad JSON, bad UTF-8, a number of thousands of digits
        raise ProbeMisbehaving("not valid JSON") from None
    return document


def parse_pointer(text: str) -> Pointer:
    """The steps of a JSON pointer such as "/probes/0/temp" (RFC 6901 sections 3 and 4).

    Raises ValueError with a sentence.
    """
    if not text:
        return ()
    if not text.startswith("/"):
        raise ValueError('a JSON pointer starts with "/"')
    steps = text[1:].split("/")
    if any(step.replace("~0", "").replace("~1", "").count("~") for step in steps):
        raise ValueError('in a JSON pointer "~" is written "~0" and "/" within a name "~1"')
    return tuple(step.replace("~1", "/").replace("~0", "~") for step in steps)


def parse_fragment(text: str) -> Pointer:
    """The steps of a JSON pointer in its URI fragment form, without the "#" (RFC 6901 section 6)."""
    return parse_pointer(unquote(text, errors="strict"))


def format_pointer(pointer: Pointer) -> str:
    return "".join("/" + step.replace("~", "~0").replace("/", "~1") for step in pointer)


def find(document: object, pointer: Pointer) -> object:
    """What the pointer points at, or MISSING."""
    for step in pointer:
        if isinstance(document, dict):
            document = document.get(step, MISSING)
        elif isinstance(document, list):
            document = document[int(step)] if _is_index(step, len(document)) else MISSING
        else:
            return MISSING
    return document


def _is_index(step: str, length: int) -> bool:
    """Digits without a leading zero (RFC 6901 section 4), and within the list."""
    if not (step.isascii() and step.isdecimal()) or len(step) > 9 or (len(step) > 1 and step[0] == "0"):
        return False
    return int(step) < length


def leaves(document: object) -> Iterator[tuple[Pointer, object]]:
    """The first scalars of a document with their pointers, depth first; bounded in depth and number."""
    waiting: list[tuple[Pointer, object]] = [((), document)]
    for _ in range(_MOST_LEAVES):
        if not waiting:
            return
        pointer, value = waiting.pop()
        children: list[tuple[str, object]] = []
        if isinstance(value, dict):
            children = list(value.items())[:_MOST_LEAVES]
        elif isinstance(value, list):
            children = [(str(index), item) for index, item in enumerate(value[:_MOST_LEAVES])]
        else:
            yield pointer, value
        if len(pointer) < _DEEPEST:
            waiting.extend(((*pointer, name), child) for name, child in reversed(children))
