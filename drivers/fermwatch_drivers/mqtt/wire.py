"""A connection to a broker, for all sources that read there; each message is acknowledged when all of them are done."""

import asyncio
from collections.abc import Awaitable, Callable, Iterable
from contextlib import AbstractAsyncContextManager
from functools import partial

import aiomqtt
from paho.mqtt.client import MQTTMessage
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from fermwatch.clock import Clock
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ConfigError, ProbeError, ProbeRefused, ProbeUnavailable
from fermwatch.text import clean
from fermwatch_drivers.mqtt import dialling, refusals
from fermwatch_drivers.mqtt.acknowledge import HeldConnection
from fermwatch_drivers.mqtt.login import FAILURE, V5, V311, client_for
from fermwatch_drivers.mqtt.options import MqttOptions
from fermwatch_drivers.mqtt.payload import LARGEST_PAYLOAD, Arrival
from fermwatch_drivers.mqtt.pending import PendingMessages
from fermwatch_drivers.mqtt.topic import NamedTopic, parse_topic
from fermwatch_drivers.mqtt.traffic import Traffic
from fermwatch_drivers.sharing import Shared

RECEIVE_MAXIMUM = 1_000  # messages that the broker may send before the first is acknowledged
_SAMPLE = 256  # bytes kept of a payload that is too large
_OF_THE_CONNECTION = (
    "username",
    "password_file",
    "password_env",
    "password_credential",
    "tls",
    "ca_file",
    "session_expiry_s",
    "keepalive_s",
)


class _SpeaksOlder(Exception):
    """The broker does not know MQTT 5."""


def mqtt_wire(name: str, options: MqttOptions, clock: Clock, wires: Wires) -> "MqttWire":
    """The wire to a broker, shared with whoever else logs in there alike.

    Topics that overlap in part cannot share one: a broker may send what is of both once or twice, and nobody can tell.
    Raises ConfigError where a client id is given that cannot serve both sources.
    """
    settings = {key: getattr(options, key) for key in _OF_THE_CONNECTION}
    place, topic = f"{options.host}:{options.broker_port}", parse_topic(options.topic)
    if options.client_id is not None:
        place = f'{place} under the client id "{options.client_id}"'
    else:
        place = f"{place} {settings}"

    def make() -> MqttWire:
        return MqttWire(options, options.client_id or f"fermwatch-{name}", clock)

    wire = wires.share(place, settings, name, make)
    if wire.takes(topic):
        return wire
    if options.client_id is not None:
        raise ConfigError(
            f"{place} is asked for topics that overlap in part: {topic.filter} is one of them.",
            hint="Give each source a client_id of its own.",
        )
    return wires.share(f"{place} for {name}", settings, name, make)


class MqttWire:
    """One broker, login and client id, connected when somebody uses it."""

    def __init__(self, options: MqttOptions, client_id: str, clock: Clock) -> None:
        self._options, self._client_id, self._clock = options, client_id, clock
        self._topics: dict[str, NamedTopic] = {}
        self._traffic: dict[str, Traffic] = {}
        self._version = V5
        self._pending = PendingMessages()
        self._losses = refusals.Losses()
        self._shared: Shared[Conversation] = Shared(f"mqtt {client_id}", self._run)

    def takes(self, topic: NamedTopic) -> bool:
        """Whether this topic can be read here too: it has nothing in common with each other one, or all."""
        return all(
            not topic.overlaps(other) or topic.covers(other) or other.covers(topic) for other in self._topics.values()
        )

    def enlist(self, source: str, topic: NamedTopic) -> Traffic:
        """What this source will hear. Before it is used: what a broker kept comes as soon as it is connected."""
        self._topics[source] = topic
        self._traffic[source] = Traffic(source, self._pending)
        return self._traffic[source]

    def filter_of(self, source: str) -> str:
        """The widest topic that brings this source its own: a broker is asked for nothing twice."""
        wide = [topic for topic in self._topics.values() if topic.covers(self._topics[source])]
        return next(topic.filter for topic in wide if all(topic.covers(other) for other in wide))

    def used(self) -> AbstractAsyncContextManager["Conversation"]:
        """The open connection. Raises ProbeError where it cannot be had."""
        return self._shared.used()

    def received(self, message: MQTTMessage, acknowledge: Callable[[int], bool]) -> None:
        """A message of one connection, which alone `acknowledge` reaches; called on the event loop."""
        arrival = _arrival(message, self._clock)
        meant = [name for name, topic in self._topics.items() if topic.channel(arrival.topic) is not None]
        sources = meant or list(self._topics)[:1]  # one is told of a topic that nobody asked for
        pending = None
        if arrival.packet_id is not None:
            pending = self._pending.accept(
                arrival.packet_id,
                arrival.topic,
                arrival.payload,
                partial(acknowledge, arrival.packet_id),
                redelivered=arrival.redelivered,
                sources=sources,
            )
            if pending is None:
                return
        for name in sources:
            self._traffic[name].take(arrival, pending)

    async def _run(self, opened: "Callable[[Conversation], None]") -> None:
        try:
            await self._session(opened)
        except _SpeaksOlder:
            self._version = V311
            await self._session(opened)

    async def _session(self, opened: "Callable[[Conversation], None]") -> None:
        """One connection from its beginning to its end, which is always an error. A new client each time, so that no
        acknowledgement can reach another connection than its own.

        Its users may deliver before anything is subscribed to: a broker sends what it kept before it answers the
        subscription, and on a bad line the answer may never come through all that.
        """
        client, ended = await self._client(), asyncio.Event()
        dialled = await dialling.dial(self._options)
        connection = HeldConnection(
            client, dialled, lambda message: self.received(message, connection.acknowledge), ended.set
        )
        try:
            await self._log_in(connection)
            if not connection.session_present:
                self._begin_a_session()
            version = "5" if self._version is V5 else "3.1.1"
            detail = f"{dialling.address(self._options)}, MQTT {version}"
            conversation = Conversation(
                detail, partial(self._subscribe, connection), partial(self._publish, connection), self._wake
            )
            opened(conversation)
            await conversation.subscribe(dict.fromkeys(self.filter_of(source) for source in self._topics))
            await ended.wait()
        finally:
            await connection.close()
        raise self._lost(connection)

    def _begin_a_session(self) -> None:
        self._pending.new_session()
        for traffic in self._traffic.values():
            traffic.begins_a_session()

    def _wake(self) -> None:
        for traffic in self._traffic.values():
            traffic.wake()

    def _lost(self, connection: HeldConnection) -> ProbeError:
        return self._losses.explain(connection.loss, self._options, self._client_id, self._clock.monotonic_s())

    async def _client(self) -> aiomqtt.Client:
        options = self._options
        return await client_for(
            options,
            self._client_id,
            version=self._version,
            session_expiry_s=options.session_expiry_s,
            receive_maximum=RECEIVE_MAXIMUM,
        )

    async def _log_in(self, connection: HeldConnection) -> None:
        try:
            await connection.open()
        except ConnectionResetError:
            # A broker from before MQTT 5 may hang up without a word: the other version has its turn next.
            self._version = V311 if self._version is V5 else V5
            raise refusals.explain_hang_up(self._options) from None
        except aiomqtt.MqttError as error:
            if self._version is V5 and refusals.reason_code(error) == refusals.UNSUPPORTED_PROTOCOL_VERSION:
                raise _SpeaksOlder from None
            raise refusals.explain_refusal(error, self._options, self._client_id) from error

    async def _subscribe(self, connection: HeldConnection, topic_filter: str) -> ProbeRefused | None:
        """Why the broker does not let us read it, if so."""
        try:
            answers = await connection.subscribe(topic_filter)
        except ConnectionResetError:
            raise self._lost(connection) from None
        except aiomqtt.MqttError as error:
            raise refusals.explain_refusal(error, self._options, self._client_id) from error
        if all(answer < FAILURE for answer in answers):
            return None
        return ProbeRefused(
            f"The broker at {dialling.address(self._options)} does not let us read {clean(topic_filter)}.",
            hint="Grant it to this user in the broker's access list.",
        )

    async def _publish(
        self,
        connection: HeldConnection,
        topic: str,
        payload: bytes,
        *,
        qos: int,
        retain: bool,
        expires_after_s: int | None,
    ) -> None:
        """See `fermwatch.contracts.wire.Publishing`."""
        place, properties = dialling.address(self._options), None
        if expires_after_s is not None:
            if self._version is not V5:
                raise ProbeRefused(
                    f"The broker at {place} knows MQTT 3.1.1 only, in which no message expires.",
                    hint="What is meant for now would come late: use a broker that knows MQTT 5.",
                )
            properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
            properties.MessageExpiryInterval = expires_after_s
        try:
            await connection.publish(topic, payload, qos=qos, retain=retain, properties=properties)
        except ConnectionResetError:
            raise self._lost(connection) from None
        except aiomqtt.MqttError as error:
            raise ProbeUnavailable(f"The broker at {place} did not take over what was published.") from error


class Conversation:
    """One connection after its login. over: set once it has ended and is closed, and then `loss` says why."""

    def __init__(
        self,
        detail: str,
        ask: Callable[[str], Awaitable[ProbeRefused | None]],
        publish: Callable[..., Awaitable[None]],
        wake: Callable[[], None],
    ) -> None:
        """detail: for the health screen. ask: for one subscription. wake: tell all sources of the end."""
        self.detail, self._ask, self._publish, self._wake = detail, ask, publish, wake
        self.over = asyncio.Event()
        self.loss: BaseException = RuntimeError("the connection has not ended")
        self._answers: dict[str, ProbeRefused | None] = {}
        self._asked = asyncio.Event()
        self._asking = asyncio.Lock()

    async def subscribe(self, topic_filters: Iterable[str]) -> None:
        """Ask for these where that was not done. What is refused is told to whoever wants to read it."""
        async with self._asking:
            for topic_filter in topic_filters:
                if topic_filter not in self._answers:
                    self._answers[topic_filter] = await self._ask(topic_filter)
        self._asked.set()

    async def reads(self, topic_filter: str) -> bool:
        """Wait until it is subscribed to; False where the connection is over before that.

        Raises ProbeRefused where the broker does not let us read it, and asks anew the next time.
        """
        await self._asked.wait()
        if self.over.is_set():
            return False
        await self.subscribe([topic_filter])
        refused = self._answers[topic_filter]
        if refused is not None:
            del self._answers[topic_filter]
            raise refused
        return True

    async def publish(
        self, topic: str, payload: bytes, *, qos: int = 1, retain: bool = False, expires_after_s: int | None = None
    ) -> None:
        """See `fermwatch.contracts.wire.Publishing`."""
        if self.over.is_set():
            raise self.loss
        await self._publish(topic, payload, qos=qos, retain=retain, expires_after_s=expires_after_s)

    def ended(self, error: BaseException) -> None:
        """See `fermwatch_drivers.sharing.Connection`."""
        self.loss = error
        self.over.set()
        self._asked.set()
        self._wake()


def _arrival(message: MQTTMessage, clock: Clock) -> Arrival:
    try:
        topic = message.topic
    except UnicodeDecodeError:
        topic = ""  # matches nothing, and is said to
    size = len(message.payload)
    payload = bytes(message.payload if size <= LARGEST_PAYLOAD else message.payload[:_SAMPLE])
    packet_id = message.mid if message.qos else None
    return Arrival(topic, payload, size, clock.now(), bool(message.retain), bool(message.dup), packet_id)
