"""The way from drivers to the store: gathered, converted, committed, and only then settled.

A commit starts as soon as the store is free, and what arrives meanwhile is the next one: latency is one commit and
never a linger. The queue is bounded: a store that cannot keep up makes the drivers wait, and a broker holds what they
have not acknowledged.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Iterable, Sequence
from dataclasses import dataclass

from fermwatch.contracts.driver import Delivery
from fermwatch.contracts.store import Latest
from fermwatch.errors import StoreError
from fermwatch.ingest.conversion import ByChannel, convert
from fermwatch.ingest.supervision import Source
from fermwatch.model.reading import Reading

log = logging.getLogger("fermwatch.ingest")

QUEUE_DELIVERIES = 512
COMMIT_READINGS = 2000
RETRY_S = 2.0  # how long to wait before a commit that failed is tried again


@dataclass(frozen=True, slots=True)
class Intake:
    """What one commit takes: rows, and values that a broker retained. new_sessions: series whose broker forgot us."""

    readings: tuple[Reading, ...] = ()
    last_known: tuple[Latest, ...] = ()
    new_sessions: frozenset[int] = frozenset()

    def __bool__(self) -> bool:
        return bool(self.readings or self.last_known or self.new_sessions)


Commit = Callable[[Intake], Awaitable[None]]
Taken = tuple[Intake, Delivery]


class Pipeline:
    """Between the sources and one writer."""

    def __init__(
        self,
        bindings: ByChannel,
        commit: Commit,
        *,
        commit_every_s: float = 0.0,
        trouble: Callable[[str], None] = lambda _: None,
    ) -> None:
        self._bindings, self._commit = bindings, commit
        self._commit_every_s, self._trouble = commit_every_s, trouble
        self._queue: asyncio.Queue[Taken] = asyncio.Queue(QUEUE_DELIVERIES)
        self._lingering: asyncio.Timeout | None = None
        self._draining = False

    async def hand_over(self, source: Source, delivery: Delivery) -> None:
        """Take a delivery; waits while the queue is full. Converted here, so that its driver alone fails of it."""
        await self._queue.put((take(source, delivery, self._bindings), delivery))

    async def run(self) -> None:
        """Until cancelled: commit what comes in. A store in trouble is tried again; nothing taken is given up."""
        while True:
            taken = [await self._queue.get()]
            await self._gather(taken)
            await self._commit_contained([intake for intake, _ in taken])
            for _, delivery in taken:
                settle(delivery)
                self._queue.task_done()

    async def drained(self) -> None:
        """Wait until all that was handed over is committed, now and not later; for a clean stop."""
        self._draining = True
        if self._lingering is not None:
            self._lingering.reschedule(asyncio.get_running_loop().time())
        await self._queue.join()

    async def _gather(self, taken: list[Taken]) -> None:
        """Everything that waits; with `commit_every_s`, also what comes until then, unless somebody waits for us."""
        self._take_waiting(taken)
        if self._commit_every_s == 0.0:
            return
        try:
            async with asyncio.timeout(self._commit_every_s) as self._lingering:
                while not self._draining and not _is_due(taken):
                    taken.append(await self._queue.get())
                    self._take_waiting(taken)
        except TimeoutError:
            pass  # time to commit
        finally:
            self._lingering = None

    def _take_waiting(self, taken: list[Taken]) -> None:
        size = _size(taken)
        while size < COMMIT_READINGS and not self._queue.empty():
            taken.append(self._queue.get_nowait())
            size += len(taken[-1][0].readings)

    async def _commit_contained(self, intakes: Sequence[Intake]) -> None:
        """Commit them together; where one is poison, each alone, and that one is told and left out: never stored, it
        would come again for ever, and nothing after it.
        """
        try:
            await self._commit_until_done(_together(intakes))
        except Exception as error:
            if len(intakes) > 1:
                for intake in intakes:
                    await self._commit_contained([intake])
                return
            log.exception("what came in could not be stored, and is left out: %s", intakes[0].readings)
            self._trouble(f"Readings could not be stored, and were left out: {type(error).__name__}. See the log.")

    async def _commit_until_done(self, intake: Intake) -> None:
        failed = ""
        while intake:
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


def _size(taken: Sequence[Taken]) -> int:
    return sum(len(intake.readings) for intake, _ in taken)


def _is_due(taken: Sequence[Taken]) -> bool:
    """Whether what is taken should be committed at once: a sender waits for it, or it is enough."""
    return any(delivery.urgent for _, delivery in taken) or _size(taken) >= COMMIT_READINGS


def _together(intakes: Iterable[Intake]) -> Intake:
    all_of_them = tuple(intakes)
    return Intake(
        tuple(reading for intake in all_of_them for reading in intake.readings),
        tuple(latest for intake in all_of_them for latest in intake.last_known),
        frozenset[int]().union(*(intake.new_sessions for intake in all_of_them)),
    )


def take(source: Source, delivery: Delivery, bindings: ByChannel) -> Intake:
    """Convert a delivery, and count at its source what became of it."""
    converted = [convert(source.status.name, raw, bindings) for raw in delivery.readings]
    readings = tuple(one.reading for one in converted if one.reading is not None)
    rejections = [*delivery.rejections, *(one.rejection for one in converted if one.rejection is not None)]
    last = rejections[-1] if rejections else None
    source.count(
        readings=len(readings),
        rejected=sum(one.count for one in rejections),
        last_rejection=" ".join(part for part in (last.channel, last.reason, last.sample) if part) if last else "",
        unbound={one.unbound for one in converted if one.unbound},
    )
    last_known = tuple(one.last_known for one in converted if one.last_known is not None)
    own = (series.series for (name, _), series in bindings.items() if name == source.status.name)
    return Intake(readings, last_known, frozenset(own) if delivery.new_session else frozenset())


def settle(delivery: Delivery) -> None:
    """Tell the sender that what it delivered is safe. What it does with that is its own affair, also where it fails."""
    if delivery.settled is None:
        return
    try:
        delivery.settled()
    except Exception:
        log.exception("a driver failed when told that its delivery is safe")
