"""What is overheard on a wire before anything is configured: who listens learns what a source would have to say."""

from collections.abc import Callable
from dataclasses import dataclass

from fermwatch.model.quantity import Unit


@dataclass(frozen=True, slots=True)
class SaidField:
    """One number in what was said.

    channel: what a probe would name. name: every word that may tell what it is. unit: where the number came with it;
    unit_beside: where another field, or the column behind it, names one.
    """

    channel: str
    name: str
    value: float
    unit: Unit | None = None
    unit_beside: Unit | None = None


@dataclass(frozen=True, slots=True)
class Utterance:
    """One line, or one message.

    place: the port's path, or the broker. driver, settings: of a source that would read it, without its topic.
    text: as it came, harmless. remark: why nothing of it can be read, where that is so.
    """

    place: str
    driver: str
    settings: tuple[tuple[str, str | int | bool], ...]
    text: str
    fields: tuple[SaidField, ...] = ()
    topic: str = ""
    retained: bool = False
    remark: str = ""


@dataclass(frozen=True, slots=True)
class PlaceNews:
    """What there is to say of a place itself: opened, silent, in use by somebody, not there. over: it is not heard any
    more."""

    place: str
    text: str
    hint: str = ""
    over: bool = False


Told = Callable[[Utterance | PlaceNews], None]
