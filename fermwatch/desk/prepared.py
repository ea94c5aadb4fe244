"""What somebody wants written down, as it would stand: looked at, doubted and asked about before it is kept."""

from dataclasses import dataclass

from fermwatch.requests.shapes import Asked


@dataclass(frozen=True, slots=True)
class Prepared:
    """In the reader's words and units, for a command and a form alike.

    rows: labelled. minded: what to mind, a sentence or two each, with what is doubted. to_do: afterwards.
    doubts: what speaks against it; against: that a verdict does. Either is answered before it is kept.
    question: empty where nobody is asked. done: once it is carried out, as a sentence; identity: under which it stands.
    """

    rows: tuple[tuple[str, str], ...]
    asked: Asked
    question: str
    done: str
    identity: str = ""
    minded: tuple[str, ...] = ()
    to_do: str = ""
    doubts: tuple[str, ...] = ()
    against: tuple[str, ...] = ()
