"""What stands under a form's fields: what is wrong with them; or the whole as it would be kept, and the question."""

from fermwatch.dashboard.forms.table import FormKind
from fermwatch.desk.prepared import Prepared
from fermwatch.drawing.labelled import WHOLE, hanging, labelled
from fermwatch.drawing.lines import Line, Span, wrap
from fermwatch.saying.ink import Ink

ALL_THE_SAME = " all the same?"


def wrong(text: str, size: int) -> list[Line]:
    return hanging("! ", text, size, Ink.WARNING) if text else []


def shown(prepared: Prepared, kind: FormKind, size: int) -> list[Line]:
    """As it would stand, with what to mind."""
    lines = labelled(prepared.rows, size)
    for text in prepared.minded:
        lines += hanging("! ", kind.in_its_words(text), size, Ink.WARNING)
    return [*lines, *(hanging("> ", prepared.to_do, size, Ink.PLAIN) if prepared.to_do else [])]


def asked(prepared: Prepared, size: int) -> list[Line]:
    """The question, which stays in sight: of what is doubted, as such; it names a verdict that stands against it."""
    said = prepared.question or "Write it in?"
    if prepared.doubts and not prepared.against:
        said = f"{said.removesuffix('?')}{ALL_THE_SAME}"
    return [(Span(part, Ink.STRONG),) for part in wrap(said, size, WHOLE)]
