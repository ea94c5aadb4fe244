"""Looks the whole store through now and then, in a thread of its own, so that nothing waits for it."""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Event

from fermwatch.errors import StoreDamaged

EVERY_S = 3600.0
SUSPECTED_EVERY_S = 10.0  # at most, however often it is written to
SHARE, SUSPECTED_SHARE = 0.01, 0.1  # of the time, at most: a large store on a slow card is read more seldom


class Examiner:
    """What it found stays said until it looked again."""

    def __init__(self, check_sound: Callable[[Callable[[], bool]], None], monotonic_s: Callable[[], float]) -> None:
        """check_sound: as contracts.store.Store has it."""
        self._check_sound, self._monotonic_s = check_sound, monotonic_s
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="fermwatch-examiner")
        self._given_up = Event()
        self._due_s = self._earliest_s = monotonic_s()
        self._damage: StoreDamaged | None = None

    def suspect(self) -> None:
        """There is reason to look soon."""
        self._due_s = min(self._due_s, self._earliest_s)

    async def turn(self, *, written: bool = False) -> None:
        """Look where it is time to. StoreDamaged as long as what was found last is damage. written: since the last."""
        if written:
            self.suspect()
        if self._monotonic_s() >= self._due_s:
            self._damage = await self._look()
        if self._damage is not None:
            raise StoreDamaged(self._damage.message, hint=self._damage.hint)

    async def _look(self) -> StoreDamaged | None:
        begun_s = self._monotonic_s()
        loop = asyncio.get_running_loop()
        try:
            await loop.run_in_executor(self._thread, self._check_sound, self._given_up.is_set)
        except StoreDamaged as damage:
            return damage
        finally:
            now_s = self._monotonic_s()
            took_s = now_s - begun_s
            self._due_s = now_s + max(EVERY_S, took_s / SHARE)
            self._earliest_s = now_s + max(SUSPECTED_EVERY_S, took_s / SUSPECTED_SHARE)
        return None

    def close(self) -> None:
        """Leave off; waits no longer than a moment."""
        self._given_up.set()
        self._thread.shutdown()
