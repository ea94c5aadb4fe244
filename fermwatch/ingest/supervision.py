"""Keeps one source running: its driver is started again after a pause; loss and return are each told once."""

import asyncio
import logging
import random
from collections.abc import Awaitable, Callable
from dataclasses import replace

from fermwatch.clock import Clock
from fermwatch.contracts.driver import Delivery, Driver
from fermwatch.contracts.store import SourceState, SourceStatus
from fermwatch.errors import FermwatchError, ProbeRefused
from fermwatch.text import clean

log = logging.getLogger("fermwatch.ingest")

FIRST_PAUSE_S = 1.0
LONGEST_PAUSE_S = 4.0  # a try costs next to nothing, and what is back should be heard within seconds
REFUSED_PAUSE_S = 30.0  # a person must act: trying often would only fill the log
STEADY_AFTER_S = 60.0  # a connection that lasted this long starts the pauses over
MAX_UNBOUND = 20  # names of channels without a probe, kept to show what could be bound

HandOver = Callable[["Source", Delivery], Awaitable[None]]


def pause_s(attempt: int, chance: random.Random) -> float:
    """A full-jitter exponential pause: sources lost together do not come back in one blow."""
    ceiling = min(LONGEST_PAUSE_S, FIRST_PAUSE_S * 2.0 ** min(attempt, 10))
    return chance.uniform(FIRST_PAUSE_S / 2, ceiling)


class Source:
    """One configured source: its driver, how it does, and the listener that the driver speaks to."""

    def __init__(
        self,
        name: str,
        driver_name: str,
        driver: Driver,
        hand_over: HandOver,
        tell: Callable[[SourceStatus], None],
        clock: Clock,
        chance: random.Random | None = None,
    ) -> None:
        self._driver, self._hand_over, self._tell, self._clock = driver, hand_over, tell, clock
        self._chance = chance or random.Random()  # noqa: S311 - jitter, no secret
        self.status = SourceStatus(name, driver_name, SourceState.STARTING, "starting", clock.now())

    def connected(self, detail: str) -> None:
        if self.status.state is not SourceState.CONNECTED:
            log.info("source %s is connected: %s", self.status.name, clean(detail, 200))
        self._set(SourceState.CONNECTED, detail)

    async def deliver(self, delivery: Delivery) -> None:
        await self._hand_over(self, delivery)

    def count(self, readings: int, rejected: int, last_rejection: str, unbound: set[str]) -> None:
        """Add to what the health screen shows. Channels that no probe has are named once in the log."""
        status = self.status
        new = sorted(unbound - set(status.unbound_channels))[: MAX_UNBOUND - len(status.unbound_channels)]
        for channel in new:
            log.info("source %s has a channel that no probe uses: %s", status.name, channel)
        if rejected and not status.rejected:
            log.warning("source %s said something that is no reading: %s", status.name, last_rejection)
        self.status = replace(
            status,
            readings=status.readings + readings,
            rejected=status.rejected + rejected,
            last_rejection=last_rejection or status.last_rejection,
            unbound_channels=(*status.unbound_channels, *new),
        )

    async def keep_running(self) -> None:
        """Until cancelled: run the driver; where it fails, say so once and try again after a pause."""
        attempt = 0
        while True:
            began_s = self._clock.monotonic_s()
            pause = await self._run_once(attempt)
            steady = self._clock.monotonic_s() - began_s > STEADY_AFTER_S
            attempt = 0 if steady else attempt + 1
            await asyncio.sleep(pause)

    async def _run_once(self, attempt: int) -> float:
        """Run the driver until it ends; the pause before the next try, seconds."""
        try:
            await self._driver.run(self)
        except ProbeRefused as error:
            self._lost(SourceState.REFUSED, error)
            return REFUSED_PAUSE_S * self._chance.uniform(0.8, 1.2)
        except FermwatchError as error:
            self._lost(SourceState.UNAVAILABLE, error)
        except Exception as error:
            # A driver may come from a stranger: its mistakes must not stop the watching of everything else.
            trouble = f"its driver failed: {type(error).__name__}: {error}"
            if self._lost(SourceState.UNAVAILABLE, FermwatchError(trouble, hint="It is started again; see the log.")):
                log.exception("the driver of source %s failed", self.status.name)
        else:
            self._lost(SourceState.UNAVAILABLE, FermwatchError("its driver ended."))
        return pause_s(attempt, self._chance)

    def _lost(self, state: SourceState, error: FermwatchError) -> bool:
        """Note it, and tell it where it is news; whether it was."""
        text = clean(str(error), 300)
        news = (state, text) != (self.status.state, self.status.detail)
        if news:
            log.warning("source %s: %s", self.status.name, text)
        self._set(state, text)
        return news

    def _set(self, state: SourceState, detail: str) -> None:
        detail = clean(detail, 300)
        since = self.status.since if state is self.status.state else self._clock.now()
        if (state, detail) != (self.status.state, self.status.detail):
            self.status = replace(self.status, state=state, detail=detail, since=since)
            self._tell(self.status)
