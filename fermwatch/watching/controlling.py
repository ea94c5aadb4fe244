"""One controller that may be asked: read, looked at beside the plan, guarded, and written to where all that says so.

It works apart from the store: where that is slow, busy or away, nothing is written; the device regulates by itself.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Protocol, TypeVar

from fermwatch.clock import Clock
from fermwatch.config.load import Loaded, LoadedController
from fermwatch.contracts.controller import Controller, Order, OrderResult, Response, Seen, SetPoint, Switch
from fermwatch.contracts.store import ControllerStatus
from fermwatch.contracts.wire import Wires
from fermwatch.control.degree import OBSERVING
from fermwatch.control.driving import UNSEEN, Driving, Sight, drive
from fermwatch.control.guard import guard_set_point
from fermwatch.control.interlock import Outputs, Times
from fermwatch.control.setting import READ_BACKS, TRIES, Setting
from fermwatch.errors import ProbeError, StoreError
from fermwatch.inbox.peeking import asked_to_observe
from fermwatch.model.amounts import plain
from fermwatch.model.degree import Degree, Output
from fermwatch.model.intent import Band
from fermwatch.rules.controlled import not_written
from fermwatch.rules.situation import GoodReading
from fermwatch.watching.boundary import in_one_line
from fermwatch.watching.controls import Controls, ControlView

EVERY_S = 5.0
HURRIED_S = 0.05  # the same by a clock that runs faster than the wall's, which waits for each turn
GAP_S = 15.0  # between two turns
VIEW_WITHIN_S = 5.0  # that the store may take: what was wanted longer ago is not written
ORDER_LASTS = timedelta(seconds=10)  # from the look that it rests on
HEARD_ANEW = timedelta(seconds=5)  # after a sleep: what comes sooner may have lain in a buffer since before

log = logging.getLogger("fermwatch")

T = TypeVar("T")


class InStore(Protocol):
    """Has the store's thread do something with what controllers need of it, at the deciding instant."""

    def __call__(self, work: Callable[[Controls, datetime], T], /) -> Awaitable[T]: ...


@dataclass(frozen=True, slots=True)
class Allowed:
    """What the configuration says of a controller. limits: the user's own, which nothing widens."""

    name: str
    vessel: str
    degree: Degree
    limits: Band | None
    store: Path
    site: str


def controllings(loaded: Loaded, wires: Wires, in_store: InStore, clock: Clock) -> tuple["Controlling", ...]:
    """For each controller of the configuration."""
    return tuple(
        Controlling(_allowed_by(one, loaded), one.make(clock, wires), in_store, clock) for one in loaded.controllers
    )


def nobody_waits(_at: datetime) -> None:
    """For turns."""


def _allowed_by(one: LoadedController, loaded: Loaded) -> Allowed:
    """What the configuration says of one controller."""
    said = one.said
    known = said.low_c is not None and said.high_c is not None
    limits = Band(said.low_c or 0.0, said.high_c or 0.0, "the limits that you set") if known else None
    return Allowed(said.source, said.vessel, said.degree, limits, loaded.store, loaded.config.site.name)


class Controlling:
    """in_store: runs in the store's thread, one thing after another."""

    def __init__(self, allowed: Allowed, controller: Controller, in_store: InStore, clock: Clock) -> None:
        self._allowed, self._controller, self._in_store, self._clock = allowed, controller, in_store, clock
        self._setting = Setting()
        self._driving = Driving(Outputs(controller.abilities.outputs))
        self._recalled = False
        self._turned: tuple[float, datetime] | None = None
        self._believed_from: datetime | None = None
        self._began = clock.now()
        self._told = ""
        self._refused = ""
        self._number = 0
        self._status = _not_seen_yet(allowed)

    async def run(self, every_s: float = EVERY_S, after: Callable[[datetime], None] = nobody_waits) -> None:
        """Until cancelled. Whatever goes wrong in one turn is told once, and the next one begins from a new reading.

        after: told after each turn when it began.
        """
        while True:
            try:
                await self.turn()
            except ProbeError as error:  # its source's alarm tells of it
                await self._show(f"nothing is written: {error}")
            except (StoreError, TimeoutError) as error:
                self._tell_once(f"the store holds it up: {str(error) or 'it is busy'}")
            except Exception as error:  # noqa: BLE001 - a mistake ends this turn, and nothing else
                await self._show(f"nothing is written, by a mistake of fermwatch: {in_one_line(error)}", error)
            after(self._began)
            await asyncio.sleep(every_s)

    async def _show(self, trouble: str, mistake: Exception | None = None) -> None:
        """What came of a turn that came to nothing, for the log and for whoever looks."""
        self._tell_once(trouble, mistake)
        self._status = replace(self._status, trouble=trouble)
        try:
            await self._of_store(partial(Controls.note_status, status=self._status))
            if mistake is not None:
                finding = not_written(self._allowed.vessel, self._allowed.name, trouble, given_up=True)
                await self._of_store(partial(Controls.tell, finding=finding))
        except (StoreError, TimeoutError) as error:
            log.debug("controller %s: that could not be shown either: %s", self._allowed.name, error)

    async def turn(self) -> None:
        """One look at the device and, where all allows it, one order. Raises ProbeError, StoreError, TimeoutError."""
        allowed, self._began = self._allowed, self._clock.now()
        view = await self._view()
        armed = allowed.limits is not None and view.arming.degree is allowed.degree
        degree = allowed.degree if armed else Degree.OBSERVE
        target_c = None if view.wanted is None else view.wanted.target_c
        said = view.arming
        self._status = replace(
            self._status, degree=degree, target_c=target_c, said_by=said.by, said_at=said.at, waits=""
        )
        if degree is Degree.OBSERVE:
            self._setting = Setting(written_s=self._setting.written_s)
            self._lose_sight()
        seen = await self._look_at(view)
        if degree is Degree.OBSERVE or allowed.limits is None:
            await self._say("")
            return
        if allowed.degree is Degree.SET:
            await self._set(view, seen, allowed.limits)
        else:
            await self._drive(view, seen, allowed.limits)

    async def _look_at(self, view: ControlView) -> Seen:
        """Raises ProbeError."""
        try:
            seen = await self._controller.read()
        except ProbeError:
            self._lose_sight()
            raise
        on = None if seen.on is None else tuple(sorted(seen.on))
        alarms = tuple(sorted(seen.alarms))
        self._status = replace(self._status, set_point_c=seen.set_point_c, on=on, alarms=alarms, at=view.at)
        return seen

    def _lose_sight(self) -> None:
        self._driving = replace(self._driving, outputs=self._driving.outputs.lost())

    async def _set(self, view: ControlView, seen: Seen, limits: Band) -> None:
        abilities, now_s = self._controller.abilities, self._clock.monotonic_s()
        guarded = guard_set_point(view.wanted, self._setting, seen, view.arming, abilities, limits, now_s)
        if guarded.write_c is not None:  # into the journal first: what it refuses is not written, and is no try
            turned_to_c = seen.set_point_c if guarded.setting.turned else None
            note = partial(Controls.note_write, target_c=guarded.write_c, turned_to_c=turned_to_c)
            await self._of_store(partial(note, controller=self._allowed.name))
        before, self._setting = self._setting, guarded.setting
        if guarded.write_c is not None:
            response = await self._order(SetPoint(guarded.write_c))
            if response.result is OrderResult.EXPIRED:  # it was not sent
                self._setting = before
            if response.result is OrderResult.REFUSED:  # for good: not to be repeated
                self._setting = replace(self._setting, tries=TRIES, differed=READ_BACKS)
            self._refused = _refusal(response)
        refused = self._refused if self._setting.given_up else ""
        await self._say(refused or guarded.why, given_up=self._setting.given_up)

    async def _drive(self, view: ControlView, seen: Seen, limits: Band) -> None:
        """Into the journal first what goes on; what goes off goes off, whatever the journal says to that."""
        abilities, now_s = self._controller.abilities, self._clock.monotonic_s()
        sight = Sight(seen, self._believed(view.beer), self._believed(view.air), now_s)
        driven = drive(self._driving, view.wanted, sight, view.arming, abilities, limits, Times())
        on = frozenset[Output]() if driven.switch is None else driven.switch.on
        note = partial(Controls.note_switch, controller=self._allowed.name, on=on, why=driven.why)
        if driven.changes and on:
            await self._of_store(note)
        self._driving = driven.state
        refused = ""
        if driven.switch is not None:
            refused = _refusal(await self._order(driven.switch))
        if driven.changes and not on:
            await self._of_store(note)
        self._status = replace(self._status, waits=driven.waits)
        await self._say(refused or driven.why, given_up=driven.state.evidence.dropped)

    def _believed(self, reading: GoodReading | None) -> float | None:
        """What was heard before we slept says nothing of now, however the clocks went on."""
        since = self._believed_from
        return None if reading is None or since is None or reading.at < since else reading.value

    def _notice_a_gap(self, view: ControlView) -> None:
        """Between two turns much more time went by than between two turns should: stopped, asleep, or starting."""
        turned, self._turned = self._turned, (self._clock.monotonic_s(), self._clock.now())
        if (
            turned is None
            or max(self._turned[0] - turned[0], abs((self._turned[1] - turned[1]) / timedelta(seconds=1))) > GAP_S
        ):
            self._believed_from = view.at + HEARD_ANEW
            self._lose_sight()

    async def _view(self) -> ControlView:
        """What holds now; whoever asked to let it be is heard before the store has taken it up."""
        name = self._allowed.name
        if not self._recalled:
            ages_s = await self._of_store(partial(Controls.writes_ago_s, controller=name))
            now_s = self._clock.monotonic_s()
            self._setting = Setting(written_s=tuple(sorted(now_s - age_s for age_s in ages_s)))
            self._recalled = True
        view = await self._of_store(partial(Controls.view, controller=name, vessel=self._allowed.vessel))
        self._notice_a_gap(view)
        return replace(view, arming=OBSERVING) if await self._is_let_be() else view

    async def _is_let_be(self) -> bool:
        allowed = self._allowed
        return await asyncio.to_thread(asked_to_observe, allowed.store, allowed.site, allowed.name)

    async def _order(self, what: SetPoint | Switch) -> Response:
        """Nothing delivers it later than a moment after the look that it rests on, also where we were stopped between;
        and nobody who was let be gets it.
        """
        if await self._is_let_be():
            return Response(OrderResult.EXPIRED)
        self._number += 1
        name, began = self._allowed.name, self._began
        response = await self._controller.ask(Order(f"{name}-{self._number}", began, began + ORDER_LASTS, what))
        level = logging.DEBUG if isinstance(what, Switch) else logging.INFO
        log.log(level, "controller %s: %s: %s %s", name, what, response.result, response.detail)
        return response

    async def _say(self, why: str, *, given_up: bool = False) -> None:
        self._tell_once(why)
        self._status = replace(self._status, trouble=why)
        await self._of_store(partial(Controls.note_status, status=self._status))
        degree, vessel = self._status.degree, self._allowed.vessel
        finding = not_written(vessel, self._allowed.name, why, degree=degree, given_up=given_up)
        unseen_in = vessel if why == UNSEEN else ""
        await self._of_store(partial(Controls.tell, finding=finding, unseen_in=unseen_in))

    def _tell_once(self, text: str, mistake: Exception | None = None) -> None:
        if text and text != self._told:
            log.warning("controller %s: %s", self._allowed.name, plain(text), exc_info=mistake)
        self._told = text

    async def _of_store(self, work: Callable[[Controls, datetime], T]) -> T:
        async with asyncio.timeout(VIEW_WITHIN_S):
            return await self._in_store(work)


def _not_seen_yet(allowed: Allowed) -> ControllerStatus:
    low_c, high_c = (None, None) if allowed.limits is None else (allowed.limits.low_c, allowed.limits.high_c)
    return ControllerStatus(
        allowed.name, allowed.vessel, Degree.OBSERVE, at_most=allowed.degree, low_c=low_c, high_c=high_c
    )


def _refusal(response: Response) -> str:
    """Why it will not do it, for a person; empty where it did not refuse."""
    if response.result is not OrderResult.REFUSED:
        return ""
    return f"It is refused: {response.detail}." if response.detail else "The controller refuses it."
