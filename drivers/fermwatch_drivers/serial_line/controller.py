"""A controller on a serial line that is asked by lines of text, by the contract of controllers."""

import asyncio
import math
from collections.abc import Callable, Mapping
from datetime import datetime
from itertools import count

from fermwatch.clock import Clock
from fermwatch.contracts.controller import Abilities, Hearing, Order, OrderResult, Response, Seen, SetPoint, Switch
from fermwatch.contracts.wire import NoAnswerInTime, NoLongerWanted
from fermwatch.errors import ProbeError, ProbeMisbehaving, ProbeUnavailable
from fermwatch.model.degree import Output
from fermwatch.text import clean
from fermwatch_drivers.hearing import Heard
from fermwatch_drivers.quantities import read_text
from fermwatch_drivers.serial_line.controller_options import (
    DEAD_MAN,
    ID,
    LEASE,
    MEASURED,
    SET_POINT,
    SerialControllerOptions,
)
from fermwatch_drivers.serial_line.wire import SerialLine, SerialWire

_ASKS_BORNE = 3  # without an answer, after which the board counts as gone
_DETAIL = 200  # characters
_IDS = 10_000
_SWITCHED = {"0": False, "1": True, "off": False, "on": True}


class SerialController:
    """One board. Every question has a number of its own, which the board repeats where its lines have room for it."""

    def __init__(self, options: SerialControllerOptions, wire: SerialWire, clock: Clock) -> None:
        self._options, self._wire, self._clock = options, wire, clock
        self._abilities = options.abilities
        # Not from one at every start: what was asked before it may still be answered.
        self._numbers = count(round(clock.now().timestamp() * 10))

    @property
    def abilities(self) -> Abilities:
        """See `fermwatch.contracts.controller.Controller`."""
        return self._abilities

    async def run(self, hearing: Hearing) -> None:
        """See `fermwatch.contracts.controller.Controller`."""
        async with self._wire.used() as line:
            missed, told = 0, False
            while True:
                heard = Heard()
                try:
                    words = await self._state(line)
                except NoAnswerInTime:
                    missed += 1
                    if not told or missed >= _ASKS_BORNE:
                        raise
                    heard.reject("no answer in time", self._options.ask)
                    await hearing.deliver(heard.delivery())
                else:
                    missed = 0
                    if not told:
                        hearing.connected(f"{clean(self._options.port)} at {self._options.baud} baud")
                        told = True
                    await self._hand_over(words, heard, hearing)
                await asyncio.sleep(self._options.every_s)

    async def read(self) -> Seen:
        """See `fermwatch.contracts.controller.Controller`."""
        async with self._wire.used() as line:
            words = await self._state(line)
        return self._seen(words, self._clock.now(), Heard())

    async def ask(self, request: Order) -> Response:
        """See `fermwatch.contracts.controller.Controller`."""
        key, values = _said(self._options, self._abilities, request.what)

        def still_meant() -> bool:
            return not request.expired(self._clock.now())

        if not still_meant():
            return Response(OrderResult.EXPIRED)
        try:
            async with self._wire.used() as line:
                await self._settled(line)
                answer, _ = await self._asked(line, key, values, ("done", "refused"), still_meant)
        except NoLongerWanted:
            return Response(OrderResult.EXPIRED)
        except ProbeError as error:
            return Response(OrderResult.UNANSWERED, clean(error.message, _DETAIL))
        return Response(OrderResult.TAKEN if answer == "done" else OrderResult.REFUSED)

    async def _state(self, line: SerialLine) -> Mapping[str, str]:
        await self._settled(line)
        _, words = await self._asked(line, "ask", {}, ("state",))
        return words

    async def _settled(self, line: SerialLine) -> None:
        """Opening restarts many boards: give it the time to begin."""
        left_s = self._options.settle_s - line.since_opening_s
        if left_s > 0:
            await asyncio.sleep(left_s)

    async def _asked(
        self,
        line: SerialLine,
        key: str,
        values: Mapping[str, str],
        answers: tuple[str, ...],
        wanted: Callable[[], bool] = lambda: True,
    ) -> tuple[str, Mapping[str, str]]:
        """Which of the answers came, and its words. Raises as `fermwatch.contracts.wire.Asking`."""
        number = str(next(self._numbers) % _IDS)

        def means(said: bytes) -> tuple[str, Mapping[str, str]] | None:
            text = said.decode("ascii", "replace")
            for answer in answers:
                words = self._options.template(answer).read(text)
                if words is not None and words.get(ID, number) == number:
                    return answer, words
            return None

        question = self._options.template(key).fill({**values, ID: number}).encode("ascii")
        said = await line.ask(
            question, lambda one: means(one) is not None, limit_s=self._options.answer_limit_s, wanted=wanted
        )
        found = means(said)
        if found is None:  # it was found by this very function
            raise ProbeUnavailable("an answer that is none.")
        return found

    async def _hand_over(self, words: Mapping[str, str], heard: Heard, hearing: Hearing) -> None:
        seen = self._seen(words, self._clock.now(), heard)
        await hearing.seen(seen)  # first: a store that cannot keep up must not keep it from who controls
        heard.readings.extend(seen.readings(self._options.shows, self._abilities.alarms))
        if heard:
            await hearing.deliver(heard.delivery())

    def _seen(self, words: Mapping[str, str], at: datetime, heard: Heard) -> Seen:
        options = self._options
        on = {output: _is_on(words, output, heard) for output in options.shows}
        return Seen(
            at,
            measured_c=_measured_c(options, words, heard),
            set_point_c=_number(words, SET_POINT, heard),
            on=None if not on or None in on.values() else frozenset(output for output, is_on in on.items() if is_on),
            dead_man_s=_number(words, DEAD_MAN, heard),
            alarms=frozenset(name for name in options.alarms if _is_on(words, name, heard)),
        )


def _said(
    options: SerialControllerOptions, abilities: Abilities, what: SetPoint | Switch
) -> tuple[str, dict[str, str]]:
    """The template that asks for it, and its values. ValueError for what the board does not have."""
    if isinstance(what, SetPoint):
        ability = abilities.set_point
        if ability is None:
            raise ValueError("the set point of this controller cannot be written")
        if not (math.isfinite(what.target_c) and ability.low_c <= what.target_c <= ability.high_c):
            raise ValueError(f"{what.target_c:g} °C is outside {ability.low_c:g} to {ability.high_c:g} °C")
        return "write", {SET_POINT: f"{what.target_c:.3f}".rstrip("0").rstrip(".")}
    if not abilities.outputs or not what.on <= abilities.outputs:
        raise ValueError(f"this controller cannot switch {', '.join(sorted(what.on)) or 'anything'}")
    if not (math.isfinite(what.lease_s) and what.lease_s > 0.0):
        raise ValueError(f"a lease is finite and positive, not {what.lease_s:g} s")
    if options.longest_lease_s is not None and what.lease_s > options.longest_lease_s:
        raise ValueError(f"a lease of {what.lease_s:g} s is longer than {options.longest_lease_s} s")
    outputs = {output.value: str(int(output in what.on)) for output in Output}
    return "switch", {**outputs, LEASE: str(math.floor(what.lease_s))}


def _measured_c(options: SerialControllerOptions, words: Mapping[str, str], heard: Heard) -> float | None:
    if words.get(MEASURED) in options.broken:
        heard.reject("the controller says that its probe is broken or missing", words[MEASURED], MEASURED)
        return None
    value = _number(words, MEASURED, heard)
    if value is not None and not options.low_c <= value <= options.high_c:
        heard.reject(f"outside {options.low_c:g} to {options.high_c:g} °C", words[MEASURED], MEASURED)
        return None
    return value


def _number(words: Mapping[str, str], name: str, heard: Heard) -> float | None:
    if name not in words:
        return None
    try:
        return read_text(words[name]).value
    except ProbeMisbehaving as error:
        heard.reject(error.message, words[name], name)
        return None


def _is_on(words: Mapping[str, str], name: str, heard: Heard) -> bool | None:
    if name not in words:
        return None
    if (word := words[name].lower()) in _SWITCHED:
        return _SWITCHED[word]
    heard.reject("neither on nor off", words[name], name)
    return None
