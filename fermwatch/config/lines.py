"""Where a key stands in a TOML file: what its parser does not tell."""

import re
from collections.abc import Iterator, Sequence

Location = Sequence[str | int]  # ("probe", 1, "unit") is the unit of the second [[probe]]

_HEADER = re.compile(r"^\s*(\[\[?)\s*([A-Za-z0-9_.\-\"']+)\s*\]\]?")
_KEY = re.compile(r"^\s*([A-Za-z0-9_\-\"']+)\s*=")


def dotted(location: Location) -> str:
    """`probe[2].unit`, counting from 1 as people do."""
    shown = ""
    for part in location:
        shown += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if shown else part
    return shown


def leaves(value: object, location: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], object]]:
    """Each value that is no table and no array, with its place."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*location, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from leaves(inner, (*location, index))
    else:
        yield location, value


def line_of(text: str, location: Location) -> int | None:
    """The line of a key, or of its table where the key is missing; None where the text does not show it."""
    wanted = list(location)
    table: list[str | int] = []
    counts: dict[str, int] = {}
    best: int | None = None
    for number, line in enumerate(text.splitlines(), 1):
        header = _HEADER.match(line)
        if header:
            table = _table(header.group(1), header.group(2), counts)
            whole = best is None and table[: len(wanted)] == wanted  # a table that is unknown as such
            if table and (whole or wanted[: len(table)] == table):
                best = number
            continue
        key = _KEY.match(line)
        if key and [*table, key.group(1).strip("\"'")] == wanted[: len(table) + 1]:
            return number
    return best


def _table(brackets: str, name: str, counts: dict[str, int]) -> list[str | int]:
    parts: list[str | int] = []
    names = [part.strip("\"'") for part in name.split(".")]
    for depth, part in enumerate(names):
        parts.append(part)
        path = ".".join(names[: depth + 1])
        if brackets == "[[" and depth == len(names) - 1:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            parts.append(counts[path])
    return parts
