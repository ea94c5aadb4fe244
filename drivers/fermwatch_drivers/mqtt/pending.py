"""Messages that were handed over and are not yet settled, and those that the broker will send again in vain. Pure."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

Acknowledge = Callable[[], bool]  # False where the connection has ended meanwhile


@dataclass(slots=True, eq=False)
class Pending:
    """A message in the works. acknowledge: one for each time that it was delivered, each for its own connection."""

    packet_id: int
    topic: str
    payload: bytes
    acknowledge: list[Acknowledge] = field(default_factory=list)
    settled: bool = False


class PendingMessages:
    """By packet id, across connections: a broker sends again on a new connection what was not acknowledged on the old.

    A second delivery is known by its mark, and by packet id, topic and payload equal to a message that is still in
    the works or was settled when its connection had gone. Anything else is new.
    """

    def __init__(self) -> None:
        self._messages: dict[int, Pending] = {}
        self.unsettled = 0

    def accept(
        self, packet_id: int, topic: str, payload: bytes, acknowledge: Acknowledge, *, redelivered: bool
    ) -> Pending | None:
        """The message to hand over, or None where that was done: it is then acknowledged together with the first."""
        known = self._messages.get(packet_id)
        if redelivered and known is not None and (known.topic, known.payload) == (topic, payload):
            if not known.settled:
                known.acknowledge.append(acknowledge)
            elif acknowledge():
                del self._messages[packet_id]
            return None
        message = Pending(packet_id, topic, payload, [acknowledge])
        self._messages[packet_id] = message
        self.unsettled += 1
        return message

    def new_session(self) -> None:
        """The broker has forgotten us: nothing of before comes again, and its packet ids mean other messages."""
        self._messages.clear()

    def forget(self, messages: Iterable[Pending]) -> None:
        """Take back messages that could not be handed over: when they come again, they are new."""
        for message in messages:
            message.settled = True
            self.unsettled -= 1
            if self._messages.get(message.packet_id) is message:
                del self._messages[message.packet_id]

    def settle(self, messages: Iterable[Pending]) -> None:
        """Acknowledge what is committed, or will never be."""
        for message in messages:
            if message.settled:
                continue
            message.settled = True
            self.unsettled -= 1
            told = [acknowledge() for acknowledge in message.acknowledge]
            if any(told) and self._messages.get(message.packet_id) is message:
                del self._messages[message.packet_id]
