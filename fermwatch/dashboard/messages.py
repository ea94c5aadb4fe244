"""What other threads tell the app."""

from dataclasses import dataclass

from textual.message import Message

from fermwatch.dashboard.events import Answered, Happening, ReadingFailed, SnapshotRead


@dataclass
class EventHeard(Message):
    """An event. Of pictures of the store, and of answers to one kind of query, only the newest matters."""

    event: Happening

    def can_replace(self, message: Message) -> bool:
        if not isinstance(message, EventHeard):
            return False
        kind = _kind(self.event)
        return kind is not None and kind == _kind(message.event)


def _kind(event: Happening) -> type | None:
    match event:
        case SnapshotRead() | ReadingFailed():
            return SnapshotRead
        case Answered(answer):
            return type(answer)
        case _:
            return None
