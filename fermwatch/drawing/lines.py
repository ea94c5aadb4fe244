"""Lines of inked text, before any terminal: spans with a meaning for their colour, measured in cells."""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from fermwatch.saying.ink import Ink

GAP = 2  # cells between two columns
LEAST_LINE = 40  # cells of what is no column


@dataclass(frozen=True, slots=True)
class Span:
    text: str
    ink: Ink = Ink.PLAIN


Line = tuple[Span, ...]
EMPTY: Line = ()


@lru_cache(maxsize=4096)
def _character_cells(character: str) -> int:
    if unicodedata.category(character) in {"Mn", "Me", "Cf"}:
        return 0
    return 2 if unicodedata.east_asian_width(character) in {"W", "F"} else 1


@lru_cache(maxsize=8192)  # the same words are measured every second
def cells(text: str) -> int:
    """The width of text on a terminal, in cells."""
    return len(text) if text.isascii() else sum(_character_cells(character) for character in text)


def width(line: Line) -> int:
    return sum(cells(span.text) for span in line)


_LEADS = {"by", "as", "on", "no", "for", "since"}


def cut(text: str, limit: int, ellipsis: str = "…") -> str:
    """The text in at most `limit` cells."""
    if cells(text) <= limit:
        return text
    kept, used = "", 0
    for character in text:
        size = _character_cells(character)
        if used + size > limit - cells(ellipsis):
            break
        kept, used = kept + character, used + size
    return (kept.rstrip() + ellipsis) if limit >= cells(ellipsis) else kept


def whole_words(text: str, limit: int, ellipsis: str = "…") -> str:
    """As many words of a reading as there is room for, the value first; none that leads to one that is gone."""
    said = text.split(" ")
    while len(said) > 1 and (cells(" ".join(said)) > limit or said[-1] in _LEADS):
        said.pop()
    return cut(" ".join(said), limit, ellipsis)


def cut_line(line: Line, limit: int, ellipsis: str = "…") -> Line:
    if width(line) <= limit:
        return line
    kept: list[Span] = []
    room = limit
    for span in line:
        size = cells(span.text)
        if size > room or (size == room and span is not line[-1]):
            kept.append(Span(cut(span.text + ellipsis, room, ellipsis), span.ink))
            break
        kept.append(span)
        room -= size
    return tuple(kept)


def fit(line: Line, size: int, ellipsis: str = "…") -> Line:
    """The line in exactly `size` cells: cut, or filled with blanks."""
    line = cut_line(line, max(size, 0), ellipsis)
    missing = size - width(line)
    return (*line, Span(" " * missing)) if missing > 0 else line


def ends(left: Line, right: Line, size: int, ellipsis: str = "…") -> Line:
    """`left` at the left edge, `right` at the right one; the left one gives way."""
    room = size - width(right)
    return (*fit(left, room, ellipsis), *right) if room > GAP else fit(left, size, ellipsis)


def beside(columns: Iterable[tuple[list[Line], int]], rows: int, gap: int = GAP) -> list[Line]:
    """Blocks side by side, each as wide as it says, all `rows` high."""
    lines: list[list[Span]] = [[] for _ in range(rows)]
    for place, (block, size) in enumerate(columns):
        for row, spans in enumerate(lines):
            if place:
                spans.append(Span(" " * gap))
            spans.extend(fit(block[row] if row < len(block) else EMPTY, size))
    return [tuple(spans) for spans in lines]


_UNIT_AFTER_NUMBER = re.compile(
    r"(?<=\d) (?=(?:°[CFP]|points?|bar|psi|m?L|k?g|oz|h|min|days?|volumes?|SG|g/L|US gal|imp gal)\b|%)"
    r"|(?<=\bUS) (?=gal\b)|(?<=\bimp) (?=gal\b)"
)
_GLUE = "\N{NO-BREAK SPACE}"


def glued(text: str) -> str:
    """The text with each number held to its unit, so that no line breaks between them."""
    return _UNIT_AFTER_NUMBER.sub(_GLUE, text)


def unglued(text: str) -> str:
    return text.replace(_GLUE, " ")


def wrap(text: str, size: int, rows: int = 2, ellipsis: str = "…") -> list[str]:
    """The text broken between words into at most `rows` lines of `size` cells."""
    return [unglued(line) for line in _broken(glued(text), size, rows, ellipsis)]


_ENDS = re.compile(r"(?<=[.;])\s|\s(?=\([^()]*\)$)")  # of a sentence, of half of one, or before its last remark


def wrap_whole(text: str, size: int, rows: int, ellipsis: str = "…") -> list[str]:
    """The text broken into at most `rows` lines; of one that is longer as many whole sentences as they hold. What
    stands at its end is left out before a word is cut."""
    ends = (end.start() for end in reversed([*_ENDS.finditer(text)]))
    for shorter in (text, *(text[:end].rstrip("; ") for end in ends)):
        broken = wrap(shorter, size, rows + 1, ellipsis)
        if len(broken) <= rows:
            return broken
    return wrap(text, size, rows, ellipsis)


def _broken(text: str, size: int, rows: int, ellipsis: str) -> list[str]:
    lines: list[str] = []
    rest = [piece for word in re.split(r"[ \t\r\n\v\f]+", text) for piece in _pieces(word, size)]
    while rest and len(lines) < rows:
        if len(lines) == rows - 1:
            lines.append(cut(" ".join(rest), size, ellipsis))
            break
        taken = [rest.pop(0)]
        while rest and cells(" ".join([*taken, rest[0]])) <= size:
            taken.append(rest.pop(0))
        lines.append(cut(" ".join(taken), size, ellipsis))
    return lines


def _pieces(word: str, size: int) -> list[str]:
    """A word that no line holds, as a long path, goes on in the next one: its end is what tells. A column's is cut."""
    pieces = []
    while size >= LEAST_LINE and cells(word) > size:
        end = next(end for end in range(size, 0, -1) if cells(word[:end]) <= size)
        pieces.append(word[:end])
        word = word[end:]
    return [*pieces, word] if word else pieces


def plain(line: Line) -> str:
    return "".join(span.text for span in line).rstrip()


def merge(line: Line) -> Line:
    """The same line in few spans: neighbours of one ink joined, and blanks, which show none, to what is before them."""
    merged: list[Span] = []
    for span in line:
        if merged and (merged[-1].ink is span.ink or not span.text.strip(" ")):
            merged[-1] = Span(merged[-1].text + span.text, merged[-1].ink)
        elif span.text:
            merged.append(span)
    return tuple(merged)
