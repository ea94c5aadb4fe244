"""A controller that publishes its state to a broker and hears its orders there, by the contract of controllers."""

import asyncio
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import count

from fermwatch.clock import Clock
from fermwatch.contracts.controller import (
    CONTRACT_VERSION,
    Abilities,
    Hearing,
    Order,
    OrderResult,
    Response,
    Seen,
    SetPoint,
    Switch,
)
from fermwatch.contracts.wire import NoAnswerInTime, NoLongerWanted, Wires
from fermwatch.errors import ProbeError, ProbeRefused
from fermwatch.model.degree import Output
from fermwatch.text import clean
from fermwatch.units import from_canonical
from fermwatch_drivers.hearing import Heard
from fermwatch_drivers.mqtt.control_wire import ControlConversation, ControlWire, control_wire
from fermwatch_drivers.mqtt.controller_options import EXPIRES, ID, LEASE, MqttControllerOptions
from fermwatch_drivers.mqtt.login import FAILURE
from fermwatch_drivers.mqtt.state import SET_POINT, SaidState
from fermwatch_drivers.read_source import ReadKind

_STATES_BORNE = 3  # that did not come, after which the controller counts as gone
_DETAIL = 200  # characters
_IDS = 1_000_000_000  # each fits the smallest integer that a board may have for it
_LATER = 1.5  # times `every_s`, for a state that nobody asks for


class MqttController:
    """One controller behind a broker. Every question and every order has a number of its own."""

    def __init__(self, options: MqttControllerOptions, wire: ControlWire, clock: Clock) -> None:
        self._options, self._wire, self._clock = options, wire, clock
        self._abilities, self._state = options.abilities, options.state
        # Not from one at every start: what was asked before it may still be answered.
        self._numbers = count(round(clock.now().timestamp() * 10))

    @property
    def abilities(self) -> Abilities:
        """See `fermwatch.contracts.controller.Controller`."""
        return self._abilities

    async def run(self, hearing: Hearing) -> None:
        """See `fermwatch.contracts.controller.Controller`."""
        async with self._wire.used() as conversation:
            missed, told = 0, False
            while True:
                heard = Heard()
                for topic in conversation.retained_orders:
                    heard.reject("an order that somebody retained: it comes again whenever the controller does", topic)
                try:
                    payloads = await self._payloads(conversation)
                except NoAnswerInTime as error:
                    missed += 1
                    if not told or missed >= _STATES_BORNE:
                        raise
                    heard.reject("no state in time", error.message)
                    await hearing.deliver(heard.delivery())
                else:
                    missed = 0
                    if not told:
                        hearing.connected(f"{self._wire.place}, MQTT 5")
                        told = True
                    await self._hand_over(payloads, heard, hearing)
                if self._options.ask_topic is not None:
                    await asyncio.sleep(self._options.every_s)

    async def read(self) -> Seen:
        """See `fermwatch.contracts.controller.Controller`."""
        async with self._wire.used() as conversation:
            payloads = await self._payloads(conversation)
        return SaidState(self._state, payloads, Heard()).seen(self._clock.now())

    async def ask(self, request: Order) -> Response:
        """See `fermwatch.contracts.controller.Controller`."""
        said = _said(self._options, self._abilities, request.what)
        if _seconds_left(request, self._clock.now()) < 1:
            return Response(OrderResult.EXPIRED)
        try:
            async with self._wire.used() as conversation, conversation.turn:
                return await self._ordered(conversation, request, said)
        except NoLongerWanted:
            return Response(OrderResult.EXPIRED)
        except ProbeRefused as error:
            return Response(OrderResult.REFUSED, clean(str(error), _DETAIL))
        except ProbeError as error:
            return Response(OrderResult.UNANSWERED, clean(error.message, _DETAIL))

    async def _payloads(self, conversation: ControlConversation) -> Mapping[str, bytes]:
        """What it says of itself from now on. Raises NoAnswerInTime, ProbeUnavailable."""
        asking = self._options.command("ask")
        if asking is None or self._options.ask_topic is None:
            return await conversation.heard(
                await conversation.fence(self._options.answer_limit_s), _LATER * self._options.every_s + 1.0
            )
        async with conversation.turn:
            before, number = await conversation.fence(self._options.answer_limit_s), self._number()
            await self._publish(conversation, self._options.ask_topic, asking.fill({ID: number}), number, qos=0)
            repeated = self._options.echo is not None and ID in asking.names
            return await conversation.heard(
                before, self._options.answer_limit_s, lambda new: not repeated or self._echo(new) == number
            )

    async def _ordered(self, conversation: ControlConversation, request: Order, said: "_Order") -> Response:
        if said.topic in conversation.retained_orders:
            return Response(
                OrderResult.REFUSED,
                f"in {clean(said.topic, 80)} lies a message that somebody retained: the controller obeys it whenever "
                "it connects; publish an empty one there, retained",
            )
        before, number = await conversation.fence(self._options.answer_limit_s), self._number()
        left_s = _seconds_left(request, self._clock.now())
        if left_s < 1:
            return Response(OrderResult.EXPIRED)
        code = await self._publish(
            conversation, said.topic, said.payload(number, left_s), number, qos=1, request=request, expires_s=left_s
        )
        if code >= FAILURE:
            return Response(OrderResult.REFUSED, f"the broker does not let us publish in {clean(said.topic, 80)}")
        if self._options.echo is None or not said.numbered:
            return Response(OrderResult.UNANSWERED, "the broker took it")  # of the controller its state will tell
        try:
            await conversation.heard(before, self._options.answer_limit_s, lambda new: self._echo(new) == number)
        except NoAnswerInTime:
            return Response(OrderResult.UNANSWERED, "the broker took it, the controller did not say so")
        return Response(OrderResult.TAKEN)

    async def _publish(
        self,
        conversation: ControlConversation,
        topic: str,
        payload: bytes,
        number: str,
        *,
        qos: int,
        request: Order | None = None,
        expires_s: int | None = None,
    ) -> int:
        limit_s = self._options.answer_limit_s

        def still_meant() -> bool:
            return request is None or not request.expired(self._clock.now())

        lasts_s = expires_s or math.ceil(limit_s)
        return await conversation.publish(
            topic, payload, number=number, qos=qos, expires_s=lasts_s, limit_s=limit_s, wanted=still_meant
        )

    async def _hand_over(self, payloads: Mapping[str, bytes], heard: Heard, hearing: Hearing) -> None:
        seen = SaidState(self._state, payloads, heard).seen(self._clock.now())
        await hearing.seen(seen)  # first: a store that cannot keep up must not keep it from who controls
        heard.readings.extend(seen.readings(self._state.shows, self._abilities.alarms))
        if heard:
            await hearing.deliver(heard.delivery())

    def _echo(self, payloads: Mapping[str, bytes]) -> str:
        return SaidState(self._state, payloads, Heard()).echo()

    def _number(self) -> str:
        return str(next(self._numbers) % _IDS)


@dataclass(frozen=True, slots=True)
class _Order:
    """What is to be published where."""

    topic: str
    key: str
    values: Mapping[str, str]
    options: MqttControllerOptions

    @property
    def numbered(self) -> bool:
        command = self.options.command(self.key)
        return command is not None and ID in command.names

    def payload(self, number: str, left_s: int) -> bytes:
        command = self.options.command(self.key)
        return b"" if command is None else command.fill({**self.values, ID: number, EXPIRES: str(left_s)})


def _seconds_left(request: Order, now: datetime) -> int:
    """Whole seconds, never more than are left: a broker counts by these. 0 where it has expired."""
    if request.expired(now):
        return 0
    return (request.expires_at - now) // timedelta(seconds=1)


def _said(options: MqttControllerOptions, abilities: Abilities, what: SetPoint | Switch) -> _Order:
    """ValueError for what the controller does not have."""
    if isinstance(what, SetPoint):
        ability = abilities.set_point
        if ability is None or options.write_topic is None:
            raise ValueError("the set point of this controller cannot be written")
        if not (math.isfinite(what.target_c) and ability.low_c <= what.target_c <= ability.high_c):
            raise ValueError(f"{what.target_c:g} °C is outside {ability.low_c:g} to {ability.high_c:g} °C")
        number = f"{from_canonical(what.target_c, options.unit):.3f}".rstrip("0").rstrip(".")
        return _Order(options.write_topic, "write", {SET_POINT: number}, options)
    if options.switch_topic is None or not what.on <= abilities.outputs:
        raise ValueError(f"this controller cannot switch {', '.join(sorted(what.on)) or 'anything'}")
    if not (math.isfinite(what.lease_s) and what.lease_s > 0.0):
        raise ValueError(f"a lease is finite and positive, not {what.lease_s:g} s")
    if options.longest_lease_s is not None and what.lease_s > options.longest_lease_s:
        raise ValueError(f"a lease of {what.lease_s:g} s is longer than {options.longest_lease_s} s")
    outputs = {output.value: options.on if output in what.on else options.off for output in Output}
    return _Order(options.switch_topic, "switch", {**outputs, LEASE: str(math.floor(what.lease_s))}, options)


@dataclass(frozen=True, slots=True)
class MqttControllerKind:
    """What the entry point of the controller registers."""

    contract_version: int = CONTRACT_VERSION
    options: type[MqttControllerOptions] = MqttControllerOptions

    def create(self, name: str, options: MqttControllerOptions, clock: Clock, wires: Wires) -> MqttController:
        """See `fermwatch.contracts.controller.ControllerKind`. Raises ConfigError."""
        return MqttController(options, control_wire(name, options, clock, wires), clock)


CONTROLLER = MqttControllerKind()
DRIVER = ReadKind(CONTROLLER, no_secrets="done")
