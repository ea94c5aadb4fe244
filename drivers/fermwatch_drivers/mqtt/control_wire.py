"""A connection to a broker for one controller: what it says now, and nothing that was kept anywhere on the way.

It is not the connection of probes, on which nothing may be lost. Here nothing may come late: the session ends with the
connection, the state is heard with QoS 0 and never as it was retained, and what is published is never retained,
expires, and is dropped with the connection where the broker does not say that it took it.
"""

import asyncio
from collections.abc import Callable, Iterable, Mapping
from contextlib import AbstractAsyncContextManager
from dataclasses import dataclass
from functools import partial

import aiomqtt
from paho.mqtt.client import MQTTMessage
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from fermwatch.clock import Clock
from fermwatch.contracts.wire import NoAnswerInTime, Wires
from fermwatch.errors import ProbeError, ProbeRefused, ProbeUnavailable
from fermwatch.text import clean
from fermwatch_drivers.mqtt import dialling, refusals
from fermwatch_drivers.mqtt.acknowledge import HeldConnection
from fermwatch_drivers.mqtt.controller_options import MqttControllerOptions
from fermwatch_drivers.mqtt.login import FAILURE, V5, client_for
from fermwatch_drivers.mqtt.payload import LARGEST_PAYLOAD
from fermwatch_drivers.sharing import Shared

_FEW = 100  # messages that the broker may send before the first is acknowledged: we ask for none that is
_STATE = SubscribeOptions(qos=0, noLocal=True, retainHandling=SubscribeOptions.RETAIN_DO_NOT_SEND)
_COMMANDS = SubscribeOptions(qos=0, noLocal=True, retainAsPublished=True)


def control_wire(name: str, options: MqttControllerOptions, clock: Clock, wires: Wires) -> "ControlWire":
    """The wire to a broker for the controller of this name, which the one who reads it and the one who asks it share.

    Raises ConfigError where another controller has the same client id.
    """
    client_id = options.client_id or f"fermwatch-{name}.control"
    place = f"{dialling.address(options)} under the client id {client_id!r}"
    return wires.share(place, {"name": name}, name, lambda: ControlWire(options, client_id, clock))


@dataclass(frozen=True, slots=True)
class Message:
    """The last one of a topic. number: of all that came on this connection, in their order."""

    payload: bytes
    number: int


class ControlWire:
    """One broker and client id, connected when somebody uses it."""

    def __init__(self, options: MqttControllerOptions, client_id: str, clock: Clock) -> None:
        self._options, self._client_id, self._clock = options, client_id, clock
        commands = (options.write_topic, options.switch_topic)
        self._states = options.state.topics
        self._commands = tuple(dict.fromkeys(topic for topic in commands if topic is not None))
        self._losses = refusals.Losses()
        self._shared: Shared[ControlConversation] = Shared(f"mqtt {client_id}", self._run)

    @property
    def place(self) -> str:
        return f"the broker at {dialling.address(self._options)}"

    def used(self) -> AbstractAsyncContextManager["ControlConversation"]:
        """The open connection. Raises ProbeError where it cannot be had."""
        return self._shared.used()

    async def _run(self, opened: "Callable[[ControlConversation], None]") -> None:
        """One connection from its beginning to its end, which is always an error."""
        ended = asyncio.Event()
        client = await client_for(self._options, self._client_id, version=V5, session_expiry_s=0, receive_maximum=_FEW)
        dialled = await dialling.dial(self._options)

        def received(message: MQTTMessage) -> None:
            conversation.received(message)

        connection = HeldConnection(client, dialled, received, ended.set)
        conversation = ControlConversation(connection, self.place, self._states, partial(self._lost, connection))
        try:
            await self._log_in(connection)
            await self._subscribe(connection)
            opened(conversation)
            await self._until(ended, conversation.given_up)
        finally:
            await connection.close()
        raise conversation.reason or self._lost(connection)

    async def _until(self, ended: asyncio.Event, given_up: asyncio.Event) -> None:
        waiting = [asyncio.ensure_future(event.wait()) for event in (ended, given_up)]
        try:
            await asyncio.wait(waiting, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for one in waiting:
                one.cancel()

    def _lost(self, connection: HeldConnection) -> ProbeError:
        return self._losses.explain(connection.loss, self._options, self._client_id, self._clock.monotonic_s())

    async def _log_in(self, connection: HeldConnection) -> None:
        try:
            await connection.open()
        except ConnectionResetError:
            raise refusals.explain_hang_up(self._options) from None
        except aiomqtt.MqttError as error:
            if refusals.reason_code(error) == refusals.UNSUPPORTED_PROTOCOL_VERSION:
                raise ProbeRefused(
                    f"{self.place[0].upper()}{self.place[1:]} knows MQTT 3.1.1 only, in which no order expires.",
                    hint='Use one that knows MQTT 5, or read it alone, with driver = "mqtt".',
                ) from None
            raise refusals.explain_refusal(error, self._options, self._client_id) from error

    async def _subscribe(self, connection: HeldConnection) -> None:
        """To its state, which must be; and to its orders, where we may, to learn of one that somebody retained."""
        wanted = [(topic, _STATE) for topic in self._states] + [(topic, _COMMANDS) for topic in self._commands]
        try:
            answers = await connection.subscribe_as(wanted)
        except ConnectionResetError:
            raise self._lost(connection) from None
        except aiomqtt.MqttError as error:
            raise refusals.explain_refusal(error, self._options, self._client_id) from error
        for topic, answer in zip(self._states, answers, strict=False):
            if answer >= FAILURE:
                raise ProbeRefused(
                    f"The broker at {dialling.address(self._options)} does not let us read {clean(topic)}.",
                    hint="Grant it to this user in the broker's access list.",
                )


class ControlConversation:
    """One connection after its login. turn: who asks and waits for what comes of it has it alone."""

    def __init__(
        self, connection: HeldConnection, place: str, states: Iterable[str], lost: Callable[[], ProbeError]
    ) -> None:
        self._connection, self._place, self._states, self._lost = connection, place, tuple(states), lost
        self._latest: dict[str, Message] = {}
        self._retained: set[str] = set()
        self._number = 0
        self._news: asyncio.Future[None] | None = None
        self._ended: BaseException | None = None
        self.turn = asyncio.Lock()
        self.given_up = asyncio.Event()
        self.reason: ProbeError | None = None

    def received(self, message: MQTTMessage) -> None:
        """Called on the event loop."""
        try:
            topic = message.topic
        except UnicodeDecodeError:
            return  # none that was asked for
        if topic not in self._states:
            if message.retain:
                (self._retained.add if message.payload else self._retained.discard)(topic)
            return
        if message.retain:
            return  # last known is not now
        self._number += 1
        payload = bytes(message.payload[: LARGEST_PAYLOAD + 1])  # enough to be seen as too long
        self._latest[topic] = Message(payload, self._number)
        self._wake()

    @property
    def retained_orders(self) -> tuple[str, ...]:
        """The topics of orders in which a message lies that the broker hands to whoever comes, also long after."""
        return tuple(sorted(self._retained))

    async def fence(self, limit_s: float) -> int:
        """What is heard from now on was sent on by the broker after it was asked: the number of the last before that.

        After a stop there may be much in a buffer of this machine that was said long ago; an answer of the broker comes
        behind it. Raises ProbeError.
        """
        try:
            async with asyncio.timeout(limit_s):
                answers = await self._connection.subscribe_as([(topic, _STATE) for topic in self._states])
        except (TimeoutError, ConnectionResetError, aiomqtt.MqttError):
            raise self._loss("did not answer") from None
        if any(answer >= FAILURE for answer in answers):
            raise self._give_up(f"{self._place} does not let us read its topics any more.")
        return self._number

    async def heard(
        self, after: int, limit_s: float, accepts: Callable[[Mapping[str, bytes]], bool] = lambda _: True
    ) -> Mapping[str, bytes]:
        """The payloads of all topics of its state, each newer than `after`, once they are such as `accepts` takes.

        Raises NoAnswerInTime; ProbeUnavailable where the connection is lost meanwhile.
        """
        try:
            async with asyncio.timeout(limit_s):
                while True:
                    if self._ended is not None:
                        raise self._ended
                    new = {topic: one.payload for topic, one in self._latest.items() if one.number > after}
                    if len(new) == len(self._states) and accepts(new):
                        return new
                    await self._next()
        except TimeoutError:
            silent = [
                topic for topic in self._states if topic not in self._latest or self._latest[topic].number <= after
            ]
            what = f"Nothing was said in {clean(silent[0])}" if silent else "Nothing that answers us was said"
            raise NoAnswerInTime(
                f"{what} within {limit_s:g} s, by {self._place}.",
                hint="Is the controller connected there, does it say its state as every_s or ask_topic tells, and may "
                "this user read it?",
            ) from None

    async def publish(
        self,
        topic: str,
        payload: bytes,
        *,
        number: str,
        qos: int,
        expires_s: int,
        limit_s: float,
        wanted: Callable[[], bool],
    ) -> int:
        """The broker's reason code. number: also its correlation data (MQTT 5.0 section 3.3.2.3.6).

        What the broker does not confirm in time ends the connection by a reset, and with it what was not sent yet.
        Raises ProbeUnavailable; NoLongerWanted where `wanted` says so in the instant of sending.
        """
        if self._ended is not None:
            raise self._ended
        properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
        properties.MessageExpiryInterval = expires_s
        properties.CorrelationData = number.encode("ascii")
        sending = partial(self._connection.publish, topic, payload, qos=qos, retain=False, properties=properties)
        try:
            async with asyncio.timeout(limit_s):
                return await sending(wanted=wanted)
        except (TimeoutError, aiomqtt.MqttError):
            raise self._give_up(f"{self._place} did not take over what was published.") from None
        except ConnectionResetError:
            raise self._loss("hung up") from None
        except asyncio.CancelledError:
            self._give_up(f"{self._place} was left while it was spoken to.")
            raise

    def ended(self, error: BaseException) -> None:
        """See `fermwatch_drivers.sharing.Connection`."""
        self._ended = error
        self._wake()

    def _loss(self, what: str) -> ProbeError:
        if isinstance(self._ended, ProbeError):
            return self._ended
        if self._connection.loss is not None:
            return self._lost()
        return self._give_up(f"{self._place} {what}.")

    def _give_up(self, text: str) -> ProbeUnavailable:
        """Once and for all; what waits to be sent is never sent."""
        error = ProbeUnavailable(text[:1].upper() + text[1:], hint="Is the broker well?")
        if self.reason is None:
            self.reason = error
            self._connection.reset()
            self.given_up.set()
        return error

    async def _next(self) -> None:
        """Until something new was heard, or all is over."""
        if self._news is None or self._news.done():
            self._news = asyncio.get_running_loop().create_future()
        await asyncio.wait({self._news})

    def _wake(self) -> None:
        if self._news is not None and not self._news.done():
            self._news.set_result(None)
