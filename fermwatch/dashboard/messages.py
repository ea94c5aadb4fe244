"""What other threads tell the app."""

from dataclasses import dataclass

from textual.message import Message

from fermwatch.dashboard.events import Answered, Event, ReadingFailed, SnapshotRead


@dataclass
class Heard(Message):
    """An event. Of pictures of the store, and of answers to one kind of query, only the newest matters."""

    event: Event

    def can_replace(self, message: Message) -> bool:
        if not isinstance(message, Heard):
            return False
        kind = _kind(self.event)
        return kind is not None and kind == _kind(message.event)


def _kind(event: Event) -> type | None:
    match event:
        case SnapshotRead() | ReadingFailed():
            return SnapshotRead
        case Answered(answer):
            return type(answer)
        case _:
            return None
