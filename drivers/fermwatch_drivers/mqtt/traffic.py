"""Messages from a connection to the intake in bounded batches, and their acknowledgement once they are settled."""

import asyncio
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial

from paho.mqtt.client import MQTTMessage

from fermwatch.clock import Clock
from fermwatch.contracts.driver import Intake
from fermwatch_drivers.hearing import Heard
from fermwatch_drivers.mqtt.payload import LARGEST_PAYLOAD, Arrival, PayloadReader
from fermwatch_drivers.mqtt.pending import Pending, PendingMessages

URGENT_FROM = 10  # unacknowledged messages: half of the window of a broker that was left as it comes
MOST_UNASKED = 5_000  # messages without acknowledgement (QoS 0) that may wait; the broker limits the others
_SAMPLE = 256  # bytes kept of a payload that is too large
_BATCH, _BATCH_BYTES = 128, 4 * LARGEST_PAYLOAD  # per turn of the event loop


@dataclass(slots=True)
class Traffic:
    """What one connection brings. `received` and `ended` are called by the connection, on the event loop."""

    reader: PayloadReader
    pending: PendingMessages
    clock: Clock
    acknowledge: Callable[[int], bool] = lambda _packet_id: False
    _arrived: deque[Arrival] = field(default_factory=deque)
    _dropped: int = 0
    _over: bool = False
    _new_session: bool = False
    _changed: asyncio.Event = field(default_factory=asyncio.Event)
    _settled: asyncio.Event = field(default_factory=asyncio.Event)

    def received(self, message: MQTTMessage) -> None:
        if message.qos == 0 and len(self._arrived) >= MOST_UNASKED:
            self._dropped += 1
            return
        try:
            topic = message.topic
        except UnicodeDecodeError:
            topic = ""  # matches nothing, and is said to
        size = len(message.payload)
        payload = bytes(message.payload if size <= LARGEST_PAYLOAD else message.payload[:_SAMPLE])
        packet_id = message.mid if message.qos else None
        self._arrived.append(
            Arrival(topic, payload, size, self.clock.now(), bool(message.retain), bool(message.dup), packet_id)
        )
        self._changed.set()

    def begins_a_session(self) -> None:
        """Said before the first message is delivered: the broker knows nothing of what was before."""
        self._new_session = True
        self.pending.new_session()

    def ended(self) -> None:
        self._over = True
        self._changed.set()

    async def pump(self, intake: Intake) -> None:
        """Deliver until the connection has ended and everything that it brought is handed over."""
        while True:
            await self._changed.wait()
            heard, held = self._batch()
            if heard:
                urgent = self.pending.unsettled + len(self._arrived) >= URGENT_FROM
                try:
                    said = heard.delivery(partial(self._settle, held), urgent=urgent)
                    await intake.deliver(replace(said, new_session=self._new_session))
                    self._new_session = False
                except BaseException:
                    self.pending.forget(held)
                    raise
            else:
                self._settle(held)
            if not self._arrived:
                if self._over:
                    return
                self._changed.clear()
            await asyncio.sleep(0)  # a broker at full speed must not keep the loop from the others

    async def part(self, limit_s: float) -> None:
        """Wait for what is being committed, so that the broker need not send it again."""
        try:
            async with asyncio.timeout(limit_s):
                while self.pending.unsettled:
                    self._settled.clear()
                    await self._settled.wait()
        except TimeoutError:
            return  # the broker sends it again

    def _batch(self) -> tuple[Heard, list[Pending]]:
        heard, size = Heard(), 0
        held: list[Pending] = []
        if self._dropped:
            heard.reject("came faster than it can be stored; publish with QoS 1", count=self._dropped)
            self._dropped = 0
        for _ in range(_BATCH):
            if not self._arrived or size >= _BATCH_BYTES:
                break
            arrival = self._arrived.popleft()
            size += len(arrival.payload)
            if arrival.packet_id is not None:
                message = self.pending.accept(
                    arrival.packet_id,
                    arrival.topic,
                    arrival.payload,
                    partial(self.acknowledge, arrival.packet_id),
                    redelivered=arrival.redelivered,
                )
                if message is None:
                    continue
                held.append(message)
            self.reader.read(arrival, heard)
        return heard, held

    def _settle(self, held: list[Pending]) -> None:
        self.pending.settle(held)
        self._settled.set()
