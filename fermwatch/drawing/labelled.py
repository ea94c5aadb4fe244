"""What is said under its label, hanging under itself."""

from collections.abc import Iterable

from fermwatch.drawing.lines import Line, Span, wrap
from fermwatch.saying.ink import Ink

LABEL = 11  # cells before what is said, and more where a label needs it
WHOLE = 40  # rows of one text: all of it, where the page scrolls
NARROW = 50  # cells: below, what is said stands under its label


def labelled(pairs: Iterable[tuple[str, str]], size: int, ink: Ink = Ink.PLAIN) -> list[Line]:
    """A pair that says nothing is left out."""
    said = [(name, text) for name, text in pairs if text]
    indent = max([LABEL, *(len(name) + 2 for name, _ in said)]) if size >= NARROW else 0
    lines: list[Line] = []
    for name, text in said:
        parts = wrap(text, size - indent, WHOLE)
        if not indent:
            lines += [(Span(name, Ink.FAINT),)] if name else []
            lines += [(Span(part, ink),) for part in parts]
            continue
        labels = [name, *[""] * len(parts)]
        lines += [
            (Span(f"{one:<{indent}}", Ink.FAINT), Span(part, ink)) for one, part in zip(labels, parts, strict=False)
        ]
    return lines


def hanging(mark: str, text: str, size: int, ink: Ink) -> list[Line]:
    """A paragraph with a mark before its first line."""
    parts = wrap(text, size - len(mark), WHOLE)
    return [(Span(f"{mark if not row else '':<{len(mark)}}", ink), Span(part, ink)) for row, part in enumerate(parts)]
