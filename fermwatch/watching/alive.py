"""A sign of life for somebody else's alarm: given while all is well with the watching itself, and withheld else.

What the watcher cannot tell is that it is dead, or its power or its net is. Whoever expects the sign tells that.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable

from fermwatch.clock import Clock
from fermwatch.config.load import LoadedNotifier
from fermwatch.contracts.notifier import Notification, Notifier
from fermwatch.errors import NotifierRefused, NotifierUnavailable
from fermwatch.model.finding import Severity
from fermwatch.text import clean
from fermwatch.watching.boundary import in_one_line

FIRST_AFTER_S = 10.0
LIMIT_S = 60.0

log = logging.getLogger("fermwatch")

Why = Callable[[], Awaitable[str]]


class Alive:
    """ill: asked before each sign; why none may be given, or empty."""

    def __init__(self, site: str, notifier: Notifier, every_s: float, ill: Why, clock: Clock) -> None:
        self._site, self._notifier, self._every_s, self._ill, self._clock = site, notifier, every_s, ill, clock
        self._told = ""

    async def run(self) -> None:
        """Until cancelled."""
        await asyncio.sleep(min(FIRST_AFTER_S, self._every_s))
        while True:
            self._tell_once(await self.turn())
            await asyncio.sleep(self._every_s)

    async def turn(self) -> str:
        """Why no sign of life was given, if so."""
        try:
            async with asyncio.timeout(LIMIT_S):
                why = await self._ill()
            if why:
                return f"withheld: {why}"
            async with asyncio.timeout(LIMIT_S):
                await self._notifier.send(self._sign())
        except TimeoutError:
            return f"no answer within {LIMIT_S:.0f} s"
        except (NotifierUnavailable, NotifierRefused) as error:
            return clean(str(error), 300)
        except Exception as error:  # noqa: BLE001 - a mistake withholds the sign, as it should
            return f"it failed ({in_one_line(error)})"
        return ""

    def _sign(self) -> Notification:
        now = self._clock.now()
        text = "The watcher watches, stores and decides."
        identity = f"alive-{now:%Y%m%dT%H%M%S}"
        return Notification(
            identity, "alive", self._site, now, Severity.ADVICE, f"fermwatch at {self._site} is alive", text
        )

    def _tell_once(self, trouble: str) -> None:
        if trouble != self._told:
            log.log(logging.WARNING if trouble else logging.INFO, "sign of life: %s", trouble or "given again")
        self._told = trouble


def alive_of(site: str, loaded: LoadedNotifier | None, every_s: float, ill: Why, clock: Clock) -> tuple[Alive, ...]:
    """The one of the configuration, if it has one."""
    return () if loaded is None else (Alive(site, loaded.make(), every_s, ill, clock),)
