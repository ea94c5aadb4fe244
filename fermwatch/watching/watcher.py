"""The wiring of the watcher: one headless process per site, which owns the hardware and alone writes the store.

It reads like the picture: sources -> ingest -> store -> judgement -> rules -> alarms, and the inbox beside them. All
that touches the store runs in one thread, so that the loop never waits for a disk; judges sit in another, so that
neither waits for them.
"""

import asyncio
import logging
import os
from collections.abc import Awaitable, Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from typing import TypeVar

import fermwatch
from fermwatch.clock import Clock, MachineClock, SystemClock
from fermwatch.config.load import Loaded, LoadedSource
from fermwatch.contracts.store import SourceStatus, WatcherStatus
from fermwatch.contracts.wire import Wires
from fermwatch.errors import StoreError, StoreGone
from fermwatch.ingest.conversion import ByChannel
from fermwatch.ingest.pipeline import Intake, Pipeline
from fermwatch.ingest.supervision import Source
from fermwatch.watching.alive import Alive, alive_of
from fermwatch.watching.controlling import EVERY_S, HURRIED_S, controllings
from fermwatch.watching.controls import Controls
from fermwatch.watching.deciding import AlarmChange
from fermwatch.watching.examiner import Examiner
from fermwatch.watching.hold import Hold
from fermwatch.watching.hooks import Hooks
from fermwatch.watching.judging import Judged
from fermwatch.watching.logbook import Logbook
from fermwatch.watching.noting import Noting
from fermwatch.watching.telling import notifiers_of
from fermwatch.watching.tellings import Tellings, cannot_tell
from fermwatch.watching.timekeeper import Timekeeper
from fermwatch.watching.troubles import Troubles

log = logging.getLogger("fermwatch")

T = TypeVar("T")
Unanswered = tuple["Future[Judged]", ...]

ATTEND_EVERY_S = 0.5
SLICE_S = 0.05  # of the store's thread for what people ask, before a commit may come between
TICK_EVERY_S = 1.0
BEAT_EVERY_S = 5.0
DECIDE_EVERY_S = 5.0
DECIDED_WITHIN_S = 120.0  # else no sign of life is given
DECIDE_EVERY = timedelta(seconds=30)  # of deciding time: the demo's runs faster than the clock on the wall
PATIENCE_S = 0.3  # for judges, before what they said last is decided upon
DRAIN_S = 3.0


class Watcher:
    """One site, watched until stopped."""

    def __init__(
        self,
        loaded: Loaded,
        clock: Clock,
        hooks: Hooks | None = None,
        machine: MachineClock | None = None,
        *,
        begins: bool = True,
    ) -> None:
        """`clock` gives the deciding instant where it is not the machine's: the demo moves it faster.

        begins: whether a store may be begun where there is none.
        """
        self._loaded, self._clock, self._hooks = loaded, clock, hooks or Hooks()
        self._wall = machine or SystemClock()
        self._timekeeper = Timekeeper(self._wall) if isinstance(clock, SystemClock) or machine is not None else None
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="fermwatch-store")
        self._stopping, self._deciding = asyncio.Event(), asyncio.Lock()
        self._judging = ThreadPoolExecutor(1, thread_name_prefix="fermwatch-judging")
        self._hold = Hold(loaded, clock.now, self._judging, begins=begins)
        self._examiner = Examiner(self._hold.store.check_sound, clock.monotonic_s)
        self._troubles = Troubles(self._examiner.suspect)
        # Every sign of life is a commit: where commits are to spare the card, they are as seldom.
        self._beat_every_s = max(BEAT_EVERY_S, loaded.config.store.commit_every_s)
        now, version = clock.now(), fermwatch.__version__
        self._status = WatcherStatus(version, os.getpid(), now, now, self._wall.now(), beat_every_s=self._beat_every_s)
        self._decided_at: datetime | None = None
        self._decided_s = clock.monotonic_s()
        self._beat_s = -self._beat_every_s  # the first sign of life is due at once
        self._undecided = False
        self._ahead = timedelta()  # how far the wall's clock is ahead of deciding time
        self._shown_trouble = self._store_says = ""

    def stop(self) -> None:
        self._stopping.set()

    def refuse_configuration(self, why: str) -> None:
        """The configuration that is there now was not taken up: shown with the next sign of life, which is due."""
        self._status = replace(self._status, refused_configuration=why)
        self._beat_s = -self._beat_every_s

    async def store_is_away(self) -> str:
        """Why the store is out of reach just now; empty where it is in its place."""
        try:
            await self._in_thread(self._hold.check)
        except StoreGone as gone:
            return str(gone)
        return ""

    async def run(self) -> None:
        """Watch until `stop`. StoreError (as LeaseTaken) where the store cannot be opened."""
        try:
            bindings = await self._in_thread(self._open)
            await self._watch(bindings)
        finally:
            await self._in_thread(self._close)
            await self._in_thread(partial(self._judging.shutdown, cancel_futures=True))
            await self._in_thread(self._examiner.close)
            self._thread.shutdown()

    async def _watch(self, bindings: ByChannel) -> None:
        every_s = self._loaded.config.store.commit_every_s
        pipeline = Pipeline(bindings, self._commit, commit_every_s=every_s, trouble=self._trouble)
        wires = Wires()
        started = [self._source(one, wires, pipeline) for one in self._loaded.sources]
        noting = Noting(started)
        async with asyncio.TaskGroup() as room:
            committing = room.create_task(pipeline.run(), name="commit")
            sources = [room.create_task(one.keep_running(), name=one.status.name) for one in started]
            chores = [
                room.create_task(self._again_and_again("attending to requests", self._attend, ATTEND_EVERY_S)),
                room.create_task(self._again_and_again("the tick", partial(self._tick, noting), TICK_EVERY_S)),
                room.create_task(self._again_and_again("the store as a whole", self._examine, TICK_EVERY_S)),
            ]
            pause_s = EVERY_S if self._timekeeper is not None else HURRIED_S
            asked = controllings(self._loaded, wires, self._with_controls, self._clock)
            tellers = notifiers_of(self._loaded, self._with_tellings, self._clock)
            chores += [room.create_task(one.run(pause_s, self._hooks.controlled)) for one in asked]
            chores += [room.create_task(one.run()) for one in tellers]
            chores += [room.create_task(one.run()) for one in self._signs_of_life()]
            if self._timekeeper is not None:  # else decisions wait for the judges
                ready = self._again_and_again("telling the judges", self._make_judges_ready, TICK_EVERY_S)
                chores.append(room.create_task(ready))
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
            async with asyncio.timeout(DRAIN_S):
                await pipeline.drained()
        except TimeoutError:
            log.error("what came in last could not be stored: a broker sends it again, a serial line does not")

    def _source(self, one: LoadedSource, wires: Wires, pipeline: Pipeline) -> Source:
        driver = one.make(self._clock, wires)
        return Source(one.name, one.driver, driver, pipeline.hand_over, self._tell, self._clock)

    def _signs_of_life(self) -> tuple[Alive, ...]:
        config, alive = self._loaded.config, self._loaded.alive
        return alive_of(config.site.name, alive, config.alive.every_s, self._ill, self._clock) if config.alive else ()

    async def _ill(self) -> str:
        """Why nobody is to be told that all is well; empty where it is. Asked of the store's thread: it answers."""
        if self._troubles.known or self._clock.monotonic_s() - self._decided_s > DECIDED_WITHIN_S:
            return self._troubles.known or f"nothing was decided for {DECIDED_WITHIN_S:.0f} s"
        return await self._with_tellings(cannot_tell)

    async def _with_controls(self, work: Callable[[Controls, datetime], T]) -> T:
        now = await self._look()
        return await self._in_thread(lambda: work(self._book().controls, now))

    async def _with_tellings(self, work: Callable[[Tellings, datetime], T]) -> T:
        now = await self._look()
        return await self._in_thread(lambda: work(self._book().tellings, now))

    def _tell(self, _status: SourceStatus) -> None:
        """A source came up or was lost: written down and decided upon at the next tick."""
        self._undecided = True

    async def _commit(self, intake: Intake) -> None:
        await self._look()
        if self._timekeeper is None:  # whoever looks knows the time by it: nothing stored must ever lie ahead of that
            await self._beat()
        appended = await self._in_thread(self._book().take, self._hold.bound(intake))
        self._status = replace(
            self._status,
            last_commit_at=self._clock.now(),
            readings_stored=self._status.readings_stored + appended.stored,
            duplicates=self._status.duplicates + appended.duplicates,
        )
        self._undecided = True
        await self._troubles.guarded("what follows a commit", self._after_commit(intake))

    async def _after_commit(self, intake: Intake) -> None:
        """Whatever goes wrong here, the readings are stored, and are not taken again."""
        if self._timekeeper is None:  # a clock that commits drive waits for what is decided upon them
            await self._decide_when_due()
        self._hooks.committed(intake)

    def _trouble(self, text: str) -> None:
        """Nothing can be committed, or (empty) it can again: shown with the next tick."""
        self._troubles.commit = text
        self._undecided = True

    async def _again_and_again(self, chore: str, turn: Callable[[], Awaitable[None]], every_s: float) -> None:
        while True:
            await self._troubles.guarded(chore, turn())
            await asyncio.sleep(every_s)

    async def _attend(self) -> None:
        """What people ask is carried out within half a second; of very much, a slice between two commits."""
        more = True
        while more:
            await self._look()
            used_up = partial(self._is_past, self._clock.monotonic_s() + SLICE_S)
            attending = self._in_thread(self._book().attend_a_slice, self._clock.now(), used_up)
            attended = await self._troubles.guarded("requests", attending)
            more = attended is not None and attended.more
            if attended is not None and attended.outcomes:
                self._undecided = True
                await self._decide_when_due()

    def _is_past(self, end_s: float) -> bool:
        return self._clock.monotonic_s() >= end_s

    async def _tick(self, noting: Noting) -> None:
        """Time passes also when nothing is heard: silence is decided upon, and the store shows a sign of life."""
        await self._look()
        if await self._keep_hold_of_the_store():
            noting.forget()
        due = self._beat_is_due()
        for status in noting.news(all_of_them=due):
            if await self._troubles.guarded("sources", self._note_source(status)):
                noting.noted(status)
        await self._decide_when_due()
        if due and self._beat_is_due():
            await self._beat()

    async def _examine(self) -> None:
        if not self._troubles.gone and self._hold.is_open:
            await self._examiner.turn(written=await self._in_thread(self._hold.held.writer.was_written))

    async def _note_source(self, status: SourceStatus) -> bool:
        await self._in_thread(self._book().note_source, status)
        return True

    def _beat_is_due(self) -> bool:
        waited_s = self._clock.monotonic_s() - self._beat_s
        return waited_s >= self._beat_every_s or self._troubles.known != self._shown_trouble

    async def _keep_hold_of_the_store(self) -> bool:
        """Notice that it was taken away, and take it up again once it is back; whether it is another one now."""
        try:
            await self._in_thread(self._hold.check)
        except StoreGone as gone:
            if not self._troubles.gone:
                self._troubles.store_is_gone(str(gone), "%s Nothing is stored or acknowledged until then.")
        else:
            if self._troubles.gone:
                log.warning("the store is back")
                self._troubles.gone = ""
            return False
        try:
            taken_up = await self._in_thread(self._hold.take_up_again, self._clock.monotonic_s())
        except StoreError as error:
            self._troubles.store_is_gone(str(error))
            return False
        if taken_up:
            log.warning("the store that lies there now is taken up")
            self._troubles.gone, self._undecided = "", True
        return taken_up

    async def _look(self) -> datetime:
        """Before every decision: the deciding instant, after the logbook was told where the clock was set."""
        if self._timekeeper is None:
            return self._clock.now()
        look = self._timekeeper.look()
        if look.news or look.moved or look.ahead or self._ahead:
            was_set = bool(look.news or look.moved) or bool(look.ahead) is not bool(self._ahead)
            self._ahead = look.ahead
            await self._troubles.guarded("the clock", self._in_thread(self._book().time_is, look))
            if was_set:  # whoever looks knows the time by the sign of life, and would find it long gone
                await self._beat()
        return look.now

    async def _decide_when_due(self) -> None:
        async with self._deciding:
            now, real_s = await self._look(), self._clock.monotonic_s()
            waited_s = real_s - self._decided_s
            moved = self._decided_at is None or now - self._decided_at >= DECIDE_EVERY
            if moved or waited_s >= DECIDE_EVERY_S or (self._undecided and waited_s >= TICK_EVERY_S):
                await self._decide(now)

    async def _make_judges_ready(self) -> None:
        """Judges who know nothing, as all at the start, are told the past apart from what is decided meanwhile."""
        steps = await self._in_steps(self._book().making_ready(await self._look()))
        self._undecided = self._undecided or steps > 0
        self._see_to(await self._in_thread(self._unanswered))

    def _unanswered(self) -> Unanswered:
        return self._book().unanswered

    def _see_to(self, unanswered: Unanswered) -> None:
        """What a judge says later is decided upon at the tick after that."""
        for future in unanswered:
            if not future.done():
                future.add_done_callback(self._answered)

    def _answered(self, _future: "Future[Judged]") -> None:
        self._undecided = True

    async def _hear_the_judges(self, now: datetime) -> None:
        """Tell them what is new, and give them a moment. A clock that commits drive waits until all have answered."""
        patience_s = PATIENCE_S if self._timekeeper is not None else None
        if self._timekeeper is None:
            await self._in_steps(self._book().making_ready(now))
            await _all_answered(await self._in_thread(self._unanswered), None)
        unanswered = await self._in_thread(self._book().tell_judges, now)
        await _all_answered(unanswered, patience_s)
        self._see_to(unanswered)

    async def _decide(self, now: datetime) -> None:
        """Step by step, so that commits and requests come between."""
        self._undecided = False
        changes: list[AlarmChange] = []
        await self._troubles.guarded("judging", self._hear_the_judges(now))
        await self._troubles.guarded("deciding", self._round(self._book().deciding(now), changes))
        self._decided_at, self._decided_s = now, self._clock.monotonic_s()
        self._hooks.decided(now, changes)
        if changes:
            await self._beat()

    async def _in_steps(self, steps: Iterator[None]) -> int:
        """How many there were."""
        count = 0
        while await self._in_thread(next, steps, self) is not self:
            count += 1
        return count

    async def _round(self, steps: Iterator[list[AlarmChange]], changes: list[AlarmChange]) -> None:
        while (step := await self._in_thread(next, steps, None)) is not None:
            changes += step
            if self._beat_is_due():  # a long round, as the first one of many batches, is no silence
                await self._beat()

    async def _beat(self) -> None:
        writer = self._hold.held.writer
        found = await self._troubles.guarded("the store's health", self._in_thread(writer.trouble))
        self._shown_trouble = self._troubles.known
        trouble = self._shown_trouble or found or ""
        if found and found != self._store_says:
            log.error("%s", found)
        self._store_says = found or ""
        self._status = replace(self._status, now=self._clock.now(), beat_at=self._wall.now(), trouble=trouble)
        self._beat_s = self._clock.monotonic_s()
        await self._troubles.guarded("the sign of life", self._in_thread(writer.beat, self._status))

    async def _in_thread(self, function: Callable[..., T], *arguments: object) -> T:
        return await asyncio.get_running_loop().run_in_executor(self._thread, function, *arguments)

    def _book(self) -> Logbook:
        return self._hold.held.book

    def _open(self) -> ByChannel:
        held = self._hold.open()
        self._hooks.opened(held)
        return held.bindings

    def _close(self) -> None:
        if not self._hold.is_open:
            return
        status = replace(self._status, now=self._clock.now(), beat_at=self._wall.now(), stopped=True)
        try:
            self._hold.held.writer.beat(status)
        except StoreError as error:
            log.warning("the stop could not be noted: %s", error)
        finally:
            self._hold.let_go()


async def _all_answered(unanswered: Unanswered, patience_s: float | None) -> None:
    if unanswered:
        await asyncio.wait([asyncio.wrap_future(one) for one in unanswered], timeout=patience_s)
