"""The way from drivers to the store: gathered, converted, committed, and only then settled.

A commit starts as soon as the store is free, and what arrives meanwhile is the next one: latency is one commit and
never a linger. The queue is bounded: a store that cannot keep up makes the drivers wait, and a broker holds what they
have not acknowledged.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass

from fermwatch.clock import Clock
from fermwatch.contracts.driver import Delivery
from fermwatch.contracts.store import Latest
from fermwatch.errors import StoreError
from fermwatch.ingest.conversion import Bindings, Converted, convert
from fermwatch.ingest.supervision import Source
from fermwatch.model.reading import Reading

log = logging.getLogger("fermwatch.ingest")

QUEUE_DELIVERIES = 512
COMMIT_READINGS = 2000
RETRY_S = 2.0  # how long to wait before a commit that failed is tried again


@dataclass(frozen=True, slots=True)
class Intake:
    """What one commit takes: rows, and values that a broker retained."""

    readings: tuple[Reading, ...]
    last_known: tuple[Latest, ...]


Commit = Callable[[Intake], Awaitable[None]]


class Pipeline:
    """Between the sources and one writer."""

    def __init__(
        self,
        bindings: Bindings,
        commit: Commit,
        clock: Clock,
        *,
        commit_every_s: float = 0.0,
        trouble: Callable[[str], None] = lambda _: None,
    ) -> None:
        self._bindings, self._commit, self._clock = bindings, commit, clock
        self._commit_every_s, self._trouble = commit_every_s, trouble
        self._queue: asyncio.Queue[tuple[Source, Delivery]] = asyncio.Queue(QUEUE_DELIVERIES)

    async def hand_over(self, source: Source, delivery: Delivery) -> None:
        """Take a delivery; waits while the queue is full."""
        await self._queue.put((source, delivery))

    async def run(self) -> None:
        """Until cancelled: commit what comes in. A store in trouble is tried again; nothing taken is given up."""
        while True:
            taken = [await self._queue.get()]
            await self._gather(taken)
            await self._commit_until_done(taken)
            for _ in taken:
                self._queue.task_done()

    async def drained(self) -> None:
        """Wait until all that was handed over is committed; for a clean stop, once the sources are quiet."""
        await self._queue.join()

    def _take_waiting(self, taken: list[tuple[Source, Delivery]]) -> None:
        size = sum(len(delivery.readings) for _, delivery in taken)
        while size < COMMIT_READINGS and not self._queue.empty():
            taken.append(self._queue.get_nowait())
            size += len(taken[-1][1].readings)

    async def _gather(self, taken: list[tuple[Source, Delivery]]) -> None:
        """Everything that waits; with `commit_every_s`, also what comes until then, unless somebody waits for us."""
        self._take_waiting(taken)
        end_s = self._clock.monotonic_s() + self._commit_every_s
        while not any(delivery.urgent for _, delivery in taken):
            left_s = end_s - self._clock.monotonic_s()
            if left_s <= 0:
                return
            try:
                taken.append(await asyncio.wait_for(self._queue.get(), left_s))
            except TimeoutError:
                return
            self._take_waiting(taken)

    async def _commit_until_done(self, taken: Sequence[tuple[Source, Delivery]]) -> None:
        intake = self._convert(taken)
        failed = ""
        while True:
            try:
                await self._commit(intake)
            except StoreError as error:
                if str(error) != failed:
                    failed = str(error)
                    log.error("nothing can be stored: %s", failed)
                    self._trouble(failed)
                await asyncio.sleep(RETRY_S)
            else:
                break
        if failed:
            log.warning("the store takes readings again")
            self._trouble("")
        settle(taken)

    def _convert(self, taken: Sequence[tuple[Source, Delivery]]) -> Intake:
        readings: list[Reading] = []
        last_known: list[Latest] = []
        for source, delivery in taken:
            name = source.status.name
            converted = [convert(name, raw, self._bindings) for raw in delivery.readings]
            readings += [one.reading for one in converted if one.reading is not None]
            last_known += [one.last_known for one in converted if one.last_known is not None]
            _count(source, delivery, converted)
        return Intake(tuple(readings), tuple(last_known))


def _count(source: Source, delivery: Delivery, converted: Sequence[Converted]) -> None:
    rejections = [*delivery.rejections, *(one.rejection for one in converted if one.rejection is not None)]
    last = rejections[-1] if rejections else None
    source.count(
        readings=sum(one.reading is not None for one in converted),
        rejected=sum(one.count for one in rejections),
        last_rejection=" ".join(part for part in (last.channel, last.reason, last.sample) if part) if last else "",
        unbound={one.unbound for one in converted if one.unbound},
    )


def settle(taken: Sequence[tuple[Source, Delivery]]) -> None:
    """Tell the senders that what they delivered is safe."""
    for _, delivery in taken:
        if delivery.settled is not None:
            delivery.settled()
