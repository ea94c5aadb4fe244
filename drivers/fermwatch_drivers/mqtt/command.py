"""What is published to a controller, as a text with names in braces: '{"target": {set-point}, "id": {id}}'. Pure."""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass

_NAME = re.compile(r"\{([a-z][a-z-]{0,30})\}")  # JSON's own braces are followed by a quotation mark, or by nothing
_LONGEST = 1000  # characters
_SAMPLE = "1"


@dataclass(frozen=True, slots=True)
class Command:
    """text: as it was written. names: those that stand in it."""

    text: str
    names: frozenset[str]

    def fill(self, values: Mapping[str, str]) -> bytes:
        """With a value for each name. KeyError where one has none."""
        return _NAME.sub(lambda match: values[match.group(1)], self.text).encode("utf-8")


def parse_command(text: str) -> Command:
    """Raises ValueError with a sentence."""
    if not 0 < len(text) <= _LONGEST or not text.isprintable():
        raise ValueError(f"one line of 1 to {_LONGEST} printable characters")
    names = frozenset(_NAME.findall(text))
    if text.lstrip().startswith(("{", "[")) and not _is_json(text, names):
        raise ValueError("it begins as JSON does, and is none once its names are filled in")
    return Command(text, names)


def _is_json(text: str, names: frozenset[str]) -> bool:
    if text.strip() in {f"{{{name}}}" for name in names}:
        return True  # a name alone
    try:
        json.loads(_NAME.sub(_SAMPLE, text))
    except (ValueError, RecursionError):
        return False
    return True
