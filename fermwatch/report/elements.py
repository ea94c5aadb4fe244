"""HTML and SVG as trees, so that no text can become markup: it is escaped where it is written out, and nowhere else."""

from xml.etree.ElementTree import Element, tostring

from fermwatch.drawing.lines import glued
from fermwatch.text import clean

LONGEST = 4000  # characters of one text

__all__ = ["Element", "element", "written"]


def element(tag: str, *content: "Element | str | None", **attributes: str) -> Element:
    """With texts and elements in their order. `class`, a word of Python's own, is given as `**{"class": ...}`."""
    made = Element(tag, attributes)
    last: Element | None = None
    for one in content:
        if one is None:
            continue
        if isinstance(one, Element):
            made.append(one)
            last = one
        elif last is None:
            made.text = (made.text or "") + _shown(one)
        else:
            last.tail = (last.tail or "") + _shown(one)
    return made


def _shown(text: str) -> str:
    """A number and its unit stay on one line."""
    return glued(clean(text, LONGEST))


def written(page: Element) -> str:
    """The document, in ASCII: whatever reads it, no sign is another one there."""
    text: bytes = tostring(page, encoding="us-ascii", method="html")
    return f"<!DOCTYPE html>\n{text.decode('ascii')}\n"
