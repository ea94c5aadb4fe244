"""The wiring of the watcher: one headless process per site, which owns the hardware and alone writes the store.

It reads like the picture: sources -> ingest -> store -> judgement -> rules -> alarms, and the inbox beside them. All
that touches the store runs in one thread, so that the loop never waits for a disk.
"""

import asyncio
import logging
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from typing import TypeVar

import fermwatch
from fermwatch.clock import Clock, Instant, SystemClock
from fermwatch.config.load import Loaded, LoadedSource
from fermwatch.contracts.store import SourceStatus, WatcherStatus
from fermwatch.deciding import Change
from fermwatch.errors import StoreError
from fermwatch.ingest.conversion import Bindings
from fermwatch.ingest.pipeline import Intake, Pipeline
from fermwatch.ingest.supervision import Source
from fermwatch.logbook import Logbook
from fermwatch.store.inbox import SqliteInbox, open_inbox
from fermwatch.store.writer import SqliteWriter, open_writer

log = logging.getLogger("fermwatch")

A = TypeVar("A")
T = TypeVar("T")

ATTEND_EVERY_S = 0.5
TICK_EVERY_S = 1.0
BEAT_EVERY_S = 5.0
DECIDE_EVERY_S = 5.0
DECIDE_EVERY = timedelta(seconds=30)  # of deciding time: the demo's runs faster than the clock on the wall
DRAIN_S = 3.0


@dataclass(frozen=True, slots=True)
class Hooks:
    """What whoever starts a watcher may want to know: the demo paces its simulator by it.

    opened: called in the store's thread before anything is watched. committed: readings are stored, and decided upon
    where that was due.
    """

    opened: Callable[["Holdings"], None] = lambda _held: None
    ready: Callable[[], None] = lambda: None
    committed: Callable[[Intake], None] = lambda _intake: None
    decided: Callable[[datetime, list[Change]], None] = lambda _at, _changes: None


@dataclass(frozen=True, slots=True)
class Holdings:
    """What is open while watching, used in the store's thread alone."""

    writer: SqliteWriter
    inbox: SqliteInbox
    book: Logbook
    bindings: Bindings


class Watcher:
    """One site, watched until stopped."""

    def __init__(self, loaded: Loaded, clock: Clock, hooks: Hooks | None = None) -> None:
        """`clock` gives the deciding instant, which the demo moves faster than the wall's."""
        self._loaded, self._clock, self._hooks = loaded, clock, hooks or Hooks()
        self._wall = SystemClock()
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="fermwatch-store")
        self._stopping = asyncio.Event()
        self._held: Holdings | None = None
        self._status = WatcherStatus(fermwatch.__version__, os.getpid(), clock.now(), clock.now(), self._wall.now())
        self._decided_at: datetime | None = None
        self._decided_s = clock.monotonic_s()
        self._beat_s = -BEAT_EVERY_S  # the first sign of life is due at once
        self._undecided = False
        self._commit_trouble = ""
        self._chore_trouble: dict[str, str] = {}  # what is to be done -> why it could not

    def stop(self) -> None:
        self._stopping.set()

    async def run(self) -> None:
        """Watch until `stop`. StoreError (as LeaseTaken) where the store cannot be opened."""
        try:
            bindings = await self._in_thread(self._open)
            await self._watch(bindings)
        finally:
            await self._in_thread(self._close)
            self._thread.shutdown()

    async def _watch(self, bindings: Bindings) -> None:
        every_s = self._loaded.config.store.commit_every_s
        pipeline = Pipeline(bindings, self._commit, commit_every_s=every_s, trouble=self._trouble)
        started = [self._source(one, pipeline) for one in self._loaded.sources]
        async with asyncio.TaskGroup() as room:
            committing = room.create_task(pipeline.run(), name="commit")
            sources = [room.create_task(one.keep_running(), name=one.status.name) for one in started]
            chores = [
                room.create_task(self._attend(), name="inbox"),
                room.create_task(self._tick(started), name="tick"),
            ]
            self._hooks.ready()
            log.info("watching %s, store %s", self._loaded.config.site.name, self._loaded.store)
            await self._stopping.wait()
            log.info("stopping")
            for task in (*sources, *chores):
                task.cancel()
            await self._drain(pipeline)
            committing.cancel()

    async def _drain(self, pipeline: Pipeline) -> None:
        try:
            await asyncio.wait_for(pipeline.drained(), DRAIN_S)
        except TimeoutError:
            log.error("what came in last could not be stored: a broker sends it again, a serial line does not")

    def _source(self, one: LoadedSource, pipeline: Pipeline) -> Source:
        driver = one.make(self._clock)
        return Source(one.name, one.driver, driver, pipeline.hand_over, self._tell, self._clock)

    def _tell(self, _status: SourceStatus) -> None:
        """A source came up or was lost: written down and decided upon at the next tick."""
        self._undecided = True

    async def _commit(self, intake: Intake) -> None:
        appended = await self._in_thread(self._book().take, intake)
        self._status = replace(
            self._status,
            last_commit_at=self._clock.now(),
            readings_stored=self._status.readings_stored + appended.stored,
            duplicates=self._status.duplicates + appended.duplicates,
        )
        self._undecided = True
        await self._decide_when_due()
        self._hooks.committed(intake)

    def _trouble(self, text: str) -> None:
        """Nothing can be committed, or (empty) it can again."""
        self._commit_trouble = text
        self._undecided = True

    async def _attend(self) -> None:
        """What people ask is carried out within half a second."""
        while True:
            outcomes = await self._guarded(self._book().attend, self._clock.now())
            if outcomes:
                await self._decide()
            await asyncio.sleep(ATTEND_EVERY_S)

    async def _tick(self, sources: list[Source]) -> None:
        """Time passes also when nothing is heard: silence is decided upon, and the store shows a sign of life."""
        noted: dict[str, SourceStatus] = {}
        last_look = Instant.of(self._wall)
        while True:
            await self._look_at_the_clock(last_look)
            last_look = Instant.of(self._wall)
            due = self._clock.monotonic_s() - self._beat_s >= BEAT_EVERY_S
            for status in (source.status for source in sources):
                before = noted.get(status.name)
                moved = before is None or (before.state, before.detail) != (status.state, status.detail)
                if moved or (due and before != status):
                    noted[status.name] = status
                    await self._guarded(self._book().note_source, status)
            await self._decide_when_due()
            if due:
                await self._beat()
            await asyncio.sleep(TICK_EVERY_S)

    async def _look_at_the_clock(self, before: Instant) -> None:
        """A clock that is set causes no alarm. Where another clock decides, as in the demo, nobody minds the wall's."""
        jump = before.jump_until(Instant.of(self._wall))
        if jump and isinstance(self._clock, SystemClock):
            await self._guarded(partial(self._book().clock_was_set, jump), self._clock.now())

    async def _decide_when_due(self) -> None:
        now, real_s = self._clock.now(), self._clock.monotonic_s()
        waited_s = real_s - self._decided_s
        moved = self._decided_at is None or now - self._decided_at >= DECIDE_EVERY
        if moved or waited_s >= DECIDE_EVERY_S or (self._undecided and waited_s >= TICK_EVERY_S):
            await self._decide()

    async def _decide(self) -> None:
        now = self._clock.now()
        self._undecided = False
        changes = await self._guarded(self._book().decide, now)
        self._decided_at, self._decided_s = now, self._clock.monotonic_s()
        self._hooks.decided(now, changes or [])
        if changes:
            await self._beat()

    async def _beat(self) -> None:
        writer = self._holdings().writer
        trouble = self._commit_trouble or next(iter(self._chore_trouble.values()), "")
        trouble = trouble or await self._in_thread(writer.trouble)
        self._status = replace(self._status, now=self._clock.now(), beat_at=self._wall.now(), trouble=trouble)
        self._beat_s = self._clock.monotonic_s()
        await self._guarded(writer.beat, self._status)

    async def _guarded(self, function: Callable[[A], T], argument: A) -> T | None:
        """A store in trouble is said so once and shown; watching goes on."""
        chore = function.__name__
        try:
            result = await self._in_thread(function, argument)
        except StoreError as error:
            if str(error) not in self._chore_trouble.values():
                log.error("the store is in trouble: %s", error)
            self._chore_trouble[chore] = str(error)
            return None
        self._chore_trouble.pop(chore, None)
        return result

    async def _in_thread(self, function: Callable[..., T], *arguments: object) -> T:
        return await asyncio.get_running_loop().run_in_executor(self._thread, function, *arguments)

    def _holdings(self) -> Holdings:
        if self._held is None:
            raise StoreError("the store is not open.")
        return self._held

    def _book(self) -> Logbook:
        return self._holdings().book

    def _open(self) -> Bindings:
        """Open what is written to, and read back what is needed to go on."""
        config, now = self._loaded.config, self._clock.now()
        writer = open_writer(self._loaded.store, config.site.name, now)
        try:
            inbox = open_inbox(self._loaded.store, create=True)
            vessels = [one.vessel() for one in config.vessel]
            numbers = writer.declare(config.site.timezone, vessels, [one.probe() for one in config.probe], now)
            book = Logbook(writer, inbox, config.rule_settings)
            book.begin(now)
        except BaseException:
            writer.close()
            raise
        by_number = {one.series: one for one in writer.series()}
        probes = {one.id: one for one in config.probe}
        bindings = {(probes[slug].source, probes[slug].channel): by_number[number] for slug, number in numbers.items()}
        self._held = Holdings(writer, inbox, book, bindings)
        self._hooks.opened(self._held)
        return bindings

    def _close(self) -> None:
        if self._held is None:
            return
        held, self._held = self._held, None
        try:
            held.writer.beat(replace(self._status, now=self._clock.now(), beat_at=self._wall.now(), stopped=True))
        except StoreError as error:
            log.warning("the stop could not be noted: %s", error)
        finally:
            held.inbox.close()
            held.writer.close()
