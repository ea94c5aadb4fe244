"""What the reader thread tells the app."""

from dataclasses import dataclass

from textual.message import Message

from fermwatch.dashboard.live import CursorMoved, LanePicked, ReadingFailed, SnapshotRead, UnitsTurned


@dataclass
class StoreSpoke(Message):
    """A new picture of the store, or why there is none. Only the newest matters."""

    event: SnapshotRead | ReadingFailed

    def can_replace(self, message: Message) -> bool:
        return isinstance(message, StoreSpoke)


@dataclass
class RequestKept(Message):
    """The inbox took a request."""

    text: str


@dataclass
class RequestFailed(Message):
    text: str


@dataclass
class Asked(Message):
    """A person moved something on the screen."""

    event: CursorMoved | LanePicked | UnitsTurned
