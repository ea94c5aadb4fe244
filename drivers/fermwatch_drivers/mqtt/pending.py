"""Messages that were handed out and are not yet settled, and those that the broker will send again in vain. Pure."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

SendAck = Callable[[], bool]  # False where the connection has ended meanwhile


@dataclass(slots=True, eq=False)
class Pending:
    """A message in the works.

    acknowledge: one for each time that it was delivered, each for its own connection.
    owed: the sources that it was meant for and that have not settled it.
    """

    packet_id: int
    topic: str
    payload: bytes
    acknowledge: list[SendAck] = field(default_factory=list)
    owed: set[str] = field(default_factory=set)


class PendingMessages:
    """By packet id, across connections: a broker sends again on a new connection what was not acknowledged on the old.

    A second delivery is known by its mark, and by packet id, topic and payload equal to a message that is still in
    the works or was settled when its connection had gone. Anything else is new. A message is acknowledged when the
    last source that it was meant for has settled it.
    """

    def __init__(self) -> None:
        self._messages: dict[int, Pending] = {}
        self.unsettled = 0

    def accept(
        self,
        packet_id: int,
        topic: str,
        payload: bytes,
        acknowledge: SendAck,
        *,
        redelivered: bool,
        sources: Iterable[str],
    ) -> Pending | None:
        """The message to hand out, or None where that was done: it is then acknowledged together with the first."""
        known = self._messages.get(packet_id)
        if redelivered and known is not None and (known.topic, known.payload) == (topic, payload):
            if known.owed:
                known.acknowledge.append(acknowledge)
            elif acknowledge():
                del self._messages[packet_id]
            return None
        message = Pending(packet_id, topic, payload, [acknowledge], set(sources))
        self._messages[packet_id] = message
        self.unsettled += 1
        return message

    def new_session(self) -> None:
        """The broker has forgotten us: nothing of before comes again, and its packet ids mean other messages."""
        self._messages.clear()

    def settle(self, messages: Iterable[Pending], source: str) -> None:
        """Acknowledge what this source has committed, or never will, where no other source owes it any more."""
        for message in messages:
            if source not in message.owed:
                continue
            message.owed.remove(source)
            if message.owed:
                continue
            self.unsettled -= 1
            told = [acknowledge() for acknowledge in message.acknowledge]
            if any(told) and self._messages.get(message.packet_id) is message:
                del self._messages[message.packet_id]
