"""What is written to a board and what it answers, as a text with names in braces: "set {set-point} {id}". Pure."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

_NAME = re.compile(r"\{([a-z][a-z0-9-]{0,30})\}")
_WORD = r"([A-Za-z0-9.+_-]{1,32})"  # what may stand for a name: letters, digits and the signs of a number
_IS_WORD = re.compile(r"[A-Za-z0-9.+_-]*")
_BLANKS = re.compile(r"\s+")
_LONGEST = 200  # characters


@dataclass(frozen=True, slots=True)
class Template:
    """text: as it was written. names: in the order in which they stand."""

    text: str
    names: tuple[str, ...]
    _pattern: re.Pattern[str]

    def fill(self, values: Mapping[str, str]) -> str:
        """The line with a value for each name. KeyError where one has none."""
        return _NAME.sub(lambda match: values[match.group(1)], self.text)

    def read(self, line: str) -> Mapping[str, str] | None:
        """The words that stand for the names; None where the line is not of this kind. Blanks may be any number."""
        match = self._pattern.fullmatch(line.strip())
        return None if match is None else dict(zip(self.names, match.groups(), strict=True))


def parse_template(text: str) -> Template:
    """Raises ValueError with a sentence."""
    if not 0 < len(text) <= _LONGEST or not text.isascii() or not text.isprintable() or text != text.strip():
        raise ValueError(f"one line of 1 to {_LONGEST} plain characters, without blanks around it")
    pieces = _NAME.split(text)  # what stands between, and the names, by turns
    between, names = pieces[::2], pieces[1::2]
    if any("{" in piece or "}" in piece for piece in between):
        raise ValueError("a name in braces has small letters, digits and dashes, as {set-point}")
    if len(set(names)) < len(names):
        raise ValueError("each name in braces stands once")
    if any(_IS_WORD.fullmatch(piece) or piece == "" for piece in between[1:-1]):
        raise ValueError("between two names stands a blank, or a sign that no number has, as , or =")
    pattern = _WORD.join(r"\s+".join(map(re.escape, _BLANKS.split(piece))) for piece in between)
    return Template(text, tuple(names), re.compile(pattern, re.ASCII))
