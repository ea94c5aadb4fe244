"""The MQTT driver: a broker, a topic with named levels, and messages acknowledged only once they are committed."""

import asyncio
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from fermwatch.clock import Clock
from fermwatch.contracts.driver import CONTRACT_VERSION, Listener
from fermwatch.contracts.wire import Wires
from fermwatch_drivers.mqtt.options import MqttOptions
from fermwatch_drivers.mqtt.payload import reader_for
from fermwatch_drivers.mqtt.wire import MqttWire, mqtt_wire

_PARTING_LIMIT_S = 0.5  # for what is being committed when we are told to stop


class MqttDriver:
    """What one source reads of a broker. Publishes nothing."""

    def __init__(self, name: str, options: MqttOptions, channels: Sequence[str], wire: MqttWire) -> None:
        topic = reader_for(name, options, channels).topic  # a name that cannot be meant is said now
        self._name, self._options, self._channels, self._wire = name, options, tuple(channels), wire
        self._traffic = wire.enlist(name, topic)

    async def run(self, listener: Listener) -> None:
        """See `fermwatch.contracts.driver.Driver`."""
        reader, topic_filter = reader_for(self._name, self._options, self._channels), self._wire.filter_of(self._name)
        async with self._wire.used() as conversation:
            delivering = self._traffic.pump(reader, listener, conversation.over)
            pumping = asyncio.create_task(delivering, name=f"mqtt {self._name}")
            try:
                if await conversation.reads(topic_filter):
                    listener.connected(conversation.detail)
                await pumping  # until all that came in is handed over
            except BaseException:
                pumping.cancel()
                await asyncio.gather(pumping, return_exceptions=True)
                await self._traffic.part(_PARTING_LIMIT_S)
                raise
            raise conversation.loss


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
        wires: Wires,
    ) -> MqttDriver:
        """See `fermwatch.contracts.driver.DriverKind`. Raises ConfigError."""
        return MqttDriver(name, options, channels, mqtt_wire(name, options, clock, wires))


DRIVER = MqttKind()
