"""The MQTT driver: a broker, a topic with named levels, and messages acknowledged only once they are committed."""

import asyncio
import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import aiomqtt
from paho.mqtt.client import MQTT_CLEAN_START_FIRST_ONLY
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from fermwatch.clock import Clock
from fermwatch.contracts.driver import CONTRACT_VERSION, Intake
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ProbeError, ProbeRefused
from fermwatch.text import clean
from fermwatch_drivers.mqtt import dialling, refusals
from fermwatch_drivers.mqtt.acknowledge import HeldConnection
from fermwatch_drivers.mqtt.options import MqttOptions
from fermwatch_drivers.mqtt.payload import reader_for
from fermwatch_drivers.mqtt.pending import PendingMessages
from fermwatch_drivers.mqtt.traffic import Traffic

RECEIVE_MAXIMUM = 1_000  # messages that the broker may send before the first is acknowledged
ANSWER_LIMIT_S = 10.0  # for the broker's answer to a login or a subscription
_LARGEST_PACKET = 8 * 1024 * 1024  # bytes; larger ones the broker keeps to itself
_FAILURE = 0x80  # reason codes from here on are refusals, MQTT 5.0 section 2.4
_PARTING_LIMIT_S = 0.5  # for what is being committed when we are told to stop
_QUIET = logging.getLogger("fermwatch_drivers.mqtt.library")  # what it says, our errors say better
_QUIET.setLevel(logging.CRITICAL + 1)

V5, V311 = aiomqtt.ProtocolVersion.V5, aiomqtt.ProtocolVersion.V311


class _SpeaksOlder(Exception):
    """The broker does not know MQTT 5."""


class MqttDriver:
    """One broker and topic. Publishes nothing."""

    def __init__(self, name: str, options: MqttOptions, channels: Sequence[str], clock: Clock) -> None:
        reader_for(name, options, channels)  # a name that cannot be meant is said now
        self._name, self._options, self._channels, self._clock = name, options, tuple(channels), clock
        self._client_id = options.client_id or f"fermwatch-{name}"
        self._version = V5
        self._pending = PendingMessages()
        self._losses = refusals.Losses()

    async def run(self, intake: Intake) -> None:
        """See `fermwatch.contracts.driver.Driver`."""
        try:
            await self._session(intake)
        except _SpeaksOlder:
            self._version = V311
            await self._session(intake)

    async def _session(self, intake: Intake) -> None:
        """One connection from its beginning to its end, which is always an error. A new client each time, so that no
        acknowledgement can reach another connection than its own."""
        traffic = Traffic(reader_for(self._name, self._options, self._channels), self._pending, self._clock)
        client = await self._client()
        connection = HeldConnection(client, await dialling.dial(self._options), traffic.received, traffic.ended)
        traffic.acknowledge = connection.acknowledge
        try:
            await self._log_in(connection)
            if not connection.session_present:
                traffic.begins_a_session()
            await self._converse(connection, traffic, intake)
        finally:
            await connection.close()
        raise self._lost(connection)

    async def _converse(self, connection: HeldConnection, traffic: Traffic, intake: Intake) -> None:
        """Subscribe, and deliver until the connection has ended.

        Delivering begins first: a broker sends what it kept before it answers the subscription, and on a bad line
        the answer may never come through all that.
        """
        pumping = asyncio.create_task(traffic.pump(intake), name=f"mqtt {self._name}")
        try:
            try:
                await self._subscribe(connection)
            except ProbeError:
                traffic.ended()
                await pumping  # hands over what has come in
                raise
            version = "5" if self._version is V5 else "3.1.1"
            intake.connected(f"{dialling.address(self._options)}, MQTT {version}")
            await pumping
        except asyncio.CancelledError:
            pumping.cancel()
            await asyncio.gather(pumping, return_exceptions=True)
            await traffic.part(_PARTING_LIMIT_S)
            raise

    def _lost(self, connection: HeldConnection) -> ProbeError:
        return self._losses.explain(connection.loss, self._options, self._client_id, self._clock.monotonic_s())

    async def _client(self) -> aiomqtt.Client:
        options = self._options
        password = await dialling.password(options)
        properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        properties.ReceiveMaximum = RECEIVE_MAXIMUM
        properties.MaximumPacketSize = _LARGEST_PACKET
        properties.SessionExpiryInterval = options.session_expiry_s
        newest = self._version is V5
        return aiomqtt.Client(
            options.host,
            options.broker_port,
            username=options.username,
            password=password,
            identifier=self._client_id,
            protocol=self._version,
            timeout=ANSWER_LIMIT_S,
            keepalive=options.keepalive_s,
            clean_session=None if newest else False,
            clean_start=False if newest else MQTT_CLEAN_START_FIRST_ONLY,
            properties=properties if newest else None,
            logger=_QUIET,
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

    async def _subscribe(self, connection: HeldConnection) -> None:
        wanted = reader_for(self._name, self._options, self._channels).topic.filter
        try:
            answers = await connection.subscribe(wanted)
        except ConnectionResetError:
            raise self._lost(connection) from None
        except aiomqtt.MqttError as error:
            raise refusals.explain_refusal(error, self._options, self._client_id) from error
        if any(answer >= _FAILURE for answer in answers):
            raise ProbeRefused(
                f"The broker at {dialling.address(self._options)} does not let us read {clean(wanted)}.",
                hint="Grant it to this user in the broker's access list.",
            )


@dataclass(frozen=True, slots=True)
class MqttKind:
    """What the entry point registers."""

    contract_version: int = CONTRACT_VERSION
    options: type[MqttOptions] = MqttOptions
    quality: Mapping[str, str] = field(
        default_factory=lambda: {
            "stable-channel-names": "done",
            "tested-before-start": "done",
            "damaged-frames-survived": "done",
            "cancels-within-a-second": "done",
            "unavailable-is-not-unknown": "done",
            "one-line-per-loss": "done",
            "explicit-concurrency": "done",
            "no-secrets-shown": "done",
            "real-hardware-captures": "exempt: a broker is software; a real one is used in the tests",
            "limits-documented": "done",
            "strict-types": "done",
            "asynchronous": "done",
        }
    )

    def create(
        self,
        name: str,
        options: MqttOptions,
        channels: Sequence[str],
        clock: Clock,
        wires: Wires,  # noqa: ARG002 - not yet
    ) -> MqttDriver:
        """See `fermwatch.contracts.driver.DriverKind`. Raises ConfigError."""
        return MqttDriver(name, options, channels, clock)


DRIVER = MqttKind()
