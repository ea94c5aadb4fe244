"""One source's messages: from a wire to the listener in bounded batches, and settled when they are committed."""

import asyncio
from collections import deque
from dataclasses import dataclass, field, replace
from functools import partial

from fermwatch.contracts.driver import Listener
from fermwatch_drivers.hearing import Heard
from fermwatch_drivers.mqtt.payload import LARGEST_PAYLOAD, Arrival, PayloadReader
from fermwatch_drivers.mqtt.pending import Pending, PendingMessages

URGENT_FROM = 10  # unacknowledged messages: half of the window of a broker that was left as it comes
MOST_UNASKED = 5_000  # messages without acknowledgement (QoS 0) that may wait; the broker limits the others
_BATCH, _BATCH_BYTES = 128, 4 * LARGEST_PAYLOAD  # per turn of the event loop


@dataclass(frozen=True, slots=True)
class _Waiting:
    """message: None where nothing is to be acknowledged. first: of a session that the broker began anew."""

    arrival: Arrival
    message: Pending | None
    first: bool


@dataclass(slots=True)
class Traffic:
    """What waits for one source, across the connections of its wire: what it could not take now, it takes later."""

    source: str
    pending: PendingMessages
    _waiting: deque[_Waiting] = field(default_factory=deque)
    _dropped: int = 0
    _begins: bool = False  # the next message is the first of a session
    _new_session: bool = False  # and the next delivery holds that one
    _unsettled: int = 0  # deliveries
    _changed: asyncio.Event = field(default_factory=asyncio.Event)
    _settled: asyncio.Event = field(default_factory=asyncio.Event)

    def take(self, arrival: Arrival, message: Pending | None) -> None:
        """One more message; called on the event loop."""
        if message is None and len(self._waiting) >= MOST_UNASKED:
            self._dropped += 1
            return
        self._waiting.append(_Waiting(arrival, message, self._begins))
        self._begins = False
        self.wake()

    def begins_a_session(self) -> None:
        """Said before the first message is taken: the broker knows nothing of what was before."""
        self._begins = True

    def wake(self) -> None:
        self._changed.set()

    async def pump(self, reader: PayloadReader, listener: Listener, over: asyncio.Event) -> None:
        """Deliver until the connection is `over` and everything that it brought is handed over."""
        while True:
            if batch := self._batch():
                await self._hand_over(batch, reader, listener)
                await asyncio.sleep(0)  # a broker at full speed must not keep the loop from the others
            elif over.is_set():
                return
            else:
                self._changed.clear()
                await self._changed.wait()

    async def part(self, limit_s: float) -> None:
        """Wait for what is being committed, so that the broker need not send it again."""
        try:
            async with asyncio.timeout(limit_s):
                while self._unsettled > 0:
                    self._settled.clear()
                    await self._settled.wait()
        except TimeoutError:
            return  # the broker sends it again

    def _batch(self) -> list[_Waiting]:
        """What goes out together: of one session, and not too much."""
        batch: list[_Waiting] = []
        size = 0
        while self._waiting and len(batch) < _BATCH and size < _BATCH_BYTES:
            if batch and self._waiting[0].first:
                break
            batch.append(self._waiting.popleft())
            size += len(batch[-1].arrival.payload)
        return batch

    async def _hand_over(self, batch: list[_Waiting], reader: PayloadReader, listener: Listener) -> None:
        """Deliver a batch. Where that is broken off, it waits on; where it fails, it is left out and settled: it would
        come again for ever, and hold up what others are to hear."""
        held = [one.message for one in batch if one.message is not None]
        self._unsettled, dropped = self._unsettled + 1, self._dropped
        try:
            heard = self._read(batch, reader)
            self._new_session = self._new_session or batch[0].first
            if not heard:
                self._settle(held)
                return
            said = heard.delivery(partial(self._settle, held), urgent=self.pending.unsettled >= URGENT_FROM)
            await listener.deliver(replace(said, new_session=self._new_session))
        except asyncio.CancelledError:
            self._unsettled -= 1
            self._waiting.extendleft(reversed(batch))
            raise
        except Exception:
            self._settle(held)
            raise
        self._new_session = False
        self._dropped -= dropped

    def _read(self, batch: list[_Waiting], reader: PayloadReader) -> Heard:
        heard = Heard()
        if self._dropped:
            heard.reject("came faster than it can be stored; publish with QoS 1", count=self._dropped)
        for one in batch:
            reader.read(one.arrival, heard)
        return heard

    def _settle(self, held: list[Pending]) -> None:
        self._unsettled -= 1
        self.pending.settle(held, self.source)
        self._settled.set()
