"""One Modbus device by the contract of controllers."""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field

from fermwatch.clock import Clock
from fermwatch.contracts.controller import Abilities, Hearing, Order, OrderResult, Response, Seen
from fermwatch.contracts.wire import NoLongerWanted
from fermwatch.errors import ProbeError, ProbeMisbehaving, ProbeRefused, ProbeUnavailable
from fermwatch.text import clean
from fermwatch_drivers.hearing import Heard
from fermwatch_drivers.modbus.frames import Function, ModbusException, Question, Read
from fermwatch_drivers.modbus.line import Addressed, Line, ModbusWire, NoAnswer
from fermwatch_drivers.modbus.options import ModbusOptions
from fermwatch_drivers.modbus.orders import abilities_of, write_for
from fermwatch_drivers.modbus.picture import questions_of, shown
from fermwatch_drivers.modbus.registers import number_at

_LOOKS_BORNE = 3  # without a single answer, after which the device counts as gone
_WRONG_QUESTION = {1, 2, 3}  # exceptions that no repetition mends: function, address, value
_ACKNOWLEDGED, _BUSY = 5, 6  # it takes its time to do it; it did not do it, and is to be asked later


@dataclass(slots=True)
class _Look:
    """What one reading of the device brought. answered: whether it said anything that is Modbus."""

    words: dict[tuple[Function, int], int] = field(default_factory=dict)
    heard: Heard = field(default_factory=Heard)
    answered: bool = False
    failure: ProbeError | None = None


class ModbusController:
    """Reads what the map knows, and writes what it lets be written, on a wire that others may share."""

    def __init__(self, options: ModbusOptions, wire: ModbusWire, clock: Clock) -> None:
        self._kind, self._options, self._wire, self._clock = options.register_map, options, wire, clock
        self._questions, self._abilities = questions_of(self._kind), abilities_of(self._kind)

    @property
    def abilities(self) -> Abilities:
        """See `fermwatch.contracts.controller.Controller`."""
        return self._abilities

    async def run(self, hearing: Hearing) -> None:
        """See `fermwatch.contracts.controller.Controller`."""
        async with self._wire.used() as line:
            missed, told = 0, False
            while True:
                look = await self._look(line)
                missed = 0 if look.answered else missed + 1
                if look.failure is not None and missed >= (_LOOKS_BORNE if told else 1):
                    raise look.failure
                if look.answered and not told:
                    hearing.connected(f"{self._kind.title}, device {self._options.device_id} at {self._wire.place}")
                    told = True
                await self._hand_over(look, hearing)
                await asyncio.sleep(self._options.every_s)

    async def read(self) -> Seen:
        """See `fermwatch.contracts.controller.Controller`."""
        async with self._wire.used() as line:
            look = await self._look(line)
        if look.failure is not None and not look.words:
            raise look.failure
        return self._seen(look)

    async def ask(self, request: Order) -> Response:
        """See `fermwatch.contracts.controller.Controller`."""
        write = write_for(self._kind, request.what)

        def still_meant() -> bool:
            return not request.expired(self._clock.now())

        if not still_meant():
            return Response(OrderResult.EXPIRED)
        try:
            async with self._wire.used() as line:
                await self._meet(line)
                await self._ask(line, write, still_meant)
        except NoLongerWanted:
            return Response(OrderResult.EXPIRED)
        except ModbusException as error:
            return Response(_result(error.code), str(error))
        except ProbeRefused as error:
            return Response(OrderResult.REFUSED, clean(str(error), _DETAIL))
        except ProbeError as error:
            return Response(OrderResult.UNANSWERED, clean(error.message, _DETAIL))
        return Response(OrderResult.TAKEN)

    async def _hand_over(self, look: _Look, hearing: Hearing) -> None:
        seen = self._seen(look)
        look.heard.readings.extend(seen.readings(frozenset(self._kind.outputs), self._abilities.alarms))
        if look.words:
            await hearing.seen(seen)  # first: a store that cannot keep up must not keep it from who controls
        if look.heard:
            await hearing.deliver(look.heard.delivery())

    def _seen(self, look: _Look) -> Seen:
        return shown(self._kind, look.words, self._clock.now(), look.heard)

    async def _look(self, line: Line) -> _Look:
        """Ask everything; what one question lacks is unknown, and leaves the others as they are.

        Raises ProbeRefused where the map does not fit the device, ProbeUnavailable where the wire is lost.
        """
        await self._meet(line)
        look = _Look()
        for question in self._questions:
            try:
                words = await self._ask(line, question)
            except NoAnswer as error:
                look.heard.reject("no answer in time", str(question))
                look.failure = error
                break  # who is away is not asked for the rest of it, while others wait
            except ProbeMisbehaving as error:
                look.heard.reject(error.message, str(question))
                look.failure = ProbeUnavailable(f"{self._wire.place}: {error.message}.", hint=_BAD_LINE)
            except ModbusException as error:
                look.answered = True
                look.heard.reject(str(error), str(question))
                look.failure = self._excepted(error, question)
                if isinstance(look.failure, ProbeRefused):
                    raise look.failure from error
            else:
                look.answered = True
                look.words.update({(question.function, question.address + at): word for at, word in enumerate(words)})
        return look

    async def _meet(self, line: Line) -> None:
        """Make sure that the device is of the map's kind, once while the wire is open: anything may be plugged in."""
        profile = self._kind.profile
        if profile is None or self in line.met:
            return
        try:
            words = await self._ask(line, profile.read)
        except ModbusException as error:
            raise self._excepted(error, profile.read) from error
        except ProbeMisbehaving as error:
            raise ProbeUnavailable(f"{self._wire.place}: {error.message}.", hint=_BAD_LINE) from error
        by_address = {(profile.function, profile.address + at): word for at, word in enumerate(words)}
        number = number_at(profile, by_address, self._kind.word_order)
        if number not in profile.expected:
            raise ProbeRefused(
                f"Device {self._options.device_id} at {self._wire.place} shows the profile {number:g}, "
                f"which is not of the register map.",
                hint="Use the map of this very model and version; nothing else is asked of it until then.",
            )
        line.met.add(self)

    async def _ask(self, line: Line, question: Question, wanted: Callable[[], bool] = lambda: True) -> tuple[int, ...]:
        addressed = Addressed(self._options.device_id, question)
        return await line.ask(addressed, limit_s=self._options.answer_limit_s, wanted=wanted)

    def _excepted(self, error: ModbusException, question: Read) -> ProbeError:
        text = f"Device {self._options.device_id} at {self._wire.place} answers {question} with {error}."
        if error.code in _WRONG_QUESTION:
            return ProbeRefused(text, hint="Compare the register map with the controller's manual.")
        return ProbeUnavailable(text, hint="Is the controller, or what is behind its gateway, in order?")


def _result(code: int) -> OrderResult:
    """What an exception says of a write; of one that nobody knows, that it may have been done."""
    if code in _WRONG_QUESTION:
        return OrderResult.REFUSED
    if code == _BUSY:
        return OrderResult.BUSY
    return OrderResult.TAKEN if code == _ACKNOWLEDGED else OrderResult.UNANSWERED


_DETAIL = 200  # characters
_BAD_LINE = "Is it the controller's address, and the line sound?"
