"""One notifier at work: what is due is handed to it, again and again with growing pauses, until it has taken it over.

It works apart from all else: one that hangs, refuses or fails holds up nobody, and what it did not take over is due
still, by the alarms themselves.
"""

import asyncio
import logging
import random
from collections.abc import Awaitable, Callable
from datetime import datetime
from functools import partial
from typing import Protocol, TypeVar

from fermwatch.clock import Clock
from fermwatch.config.load import Loaded
from fermwatch.contracts.notifier import Notifier
from fermwatch.errors import NotifierRefused, NotifierUnavailable, StoreError
from fermwatch.text import clean
from fermwatch.watching.boundary import in_one_line
from fermwatch.watching.tellings import DueMessage, Tellings

EVERY_S = 5.0
LIMIT_S = 60.0  # for one message
FIRST_PAUSE_S, LONGEST_PAUSE_S = 15.0, 1800.0
REFUSED_PAUSE_S = 600.0  # where a person must act first, who then need not restart the watcher
LONGEST_ASKED_S = 6 * 3600.0  # that whoever carries it on may ask us to wait

log = logging.getLogger("fermwatch")

T = TypeVar("T")


class InTellings(Protocol):
    """Has the store's thread do something with what notifiers need of it, at the deciding instant."""

    def __call__(self, work: Callable[[Tellings, datetime], T], /) -> Awaitable[T]: ...


class Telling:
    """in_store: runs in the store's thread, one thing after another."""

    def __init__(self, name: str, notifier: Notifier, in_store: InTellings, clock: Clock) -> None:
        self._name, self._notifier, self._in_store, self._clock = name, notifier, in_store, clock
        self._taken: tuple[DueMessage, datetime] | None = None  # delivered, and not written down yet
        self._failures = 0
        self._not_before_s = clock.monotonic_s()
        self._told = ""

    async def run(self, every_s: float = EVERY_S) -> None:
        """Until cancelled."""
        while True:
            try:
                await self.turn()
            except StoreError as error:
                self._tell_once(f"what is to be told cannot be read: {error}")
            except Exception as error:  # noqa: BLE001 - a mistake ends this turn, and nothing else
                self._tell_once(f"a mistake of fermwatch: {in_one_line(error)}", error)
            await asyncio.sleep(every_s)

    async def turn(self) -> None:
        """What was delivered is written down before anything more is, so that a full disk sends nothing twice."""
        if self._taken is not None:
            pending, at = self._taken
            await self._in_store(lambda tellings, _now: tellings.delivered(self._name, pending, at))
            self._taken = None
        if self._clock.monotonic_s() < self._not_before_s:
            return
        due = await self._in_store(lambda tellings, now: (tellings.next_of(self._name, now), now))
        pending_now, now = due
        if pending_now is None:
            return
        why, pause_s = await self._sent(pending_now)
        if why:
            self._failures += 1
            self._not_before_s = self._clock.monotonic_s() + pause_s
            self._tell_once(why)
            await self._in_store(partial(_failed, self._name, pending_now, why))
            return
        if self._failures:
            log.info("%s carries messages again", self._name)
        self._failures, self._told = 0, ""
        log.info("%s told: %s", self._name, pending_now.message.title)
        self._taken = pending_now, now
        await self._in_store(lambda tellings, _now: tellings.delivered(self._name, pending_now, now))
        self._taken = None

    async def _sent(self, pending: DueMessage) -> tuple[str, float]:
        """Why it was not taken over, and how long to wait; empty where it was."""
        pause_s = min(FIRST_PAUSE_S * 2.0 ** min(self._failures, 16), LONGEST_PAUSE_S)
        pause_s *= random.uniform(0.8, 1.2)  # noqa: S311 - so that several do not come at once
        try:
            async with asyncio.timeout(LIMIT_S):
                await self._notifier.send(pending.message)
        except TimeoutError:
            return f"no answer within {LIMIT_S:.0f} s", pause_s
        except NotifierUnavailable as error:
            return clean(str(error), 300), max(pause_s, min(error.after_s, LONGEST_ASKED_S))
        except NotifierRefused as error:
            return clean(str(error), 300), max(pause_s, REFUSED_PAUSE_S)
        except Exception as error:  # noqa: BLE001 - a plug-in's mistake is its own trouble
            return f"it failed ({in_one_line(error)})", max(pause_s, REFUSED_PAUSE_S)
        return "", 0.0

    def _tell_once(self, trouble: str, mistake: Exception | None = None) -> None:
        if trouble != self._told:
            log.error("%s: %s", self._name, trouble, exc_info=mistake)
        self._told = trouble


def notifiers_of(loaded: Loaded, in_store: InTellings, clock: Clock) -> tuple[Telling, ...]:
    """For each notifier of the configuration."""
    return tuple(Telling(one.name, one.make(), in_store, clock) for one in loaded.notifiers)


def _failed(name: str, pending: DueMessage, why: str, tellings: Tellings, now: datetime) -> None:
    tellings.failed(name, pending, why, now)
