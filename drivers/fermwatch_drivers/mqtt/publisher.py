"""Documents that stand on an MQTT broker as retained messages, by what changed alone.

A connection begins with what lies there from before: what is ours and stands there no more, as a fermenter that was
taken away, is cleared. Whoever looks later learns by the last will that nobody keeps it any more.
"""

import asyncio
import contextlib
from collections.abc import Awaitable, Callable, Iterator
from dataclasses import dataclass

import aiomqtt

from fermwatch.contracts.publisher import CONTRACT_VERSION, Documents, Shelf
from fermwatch.errors import ProbeError, ProbeRefused, PublisherRefused, PublisherUnavailable
from fermwatch_drivers.mqtt import dialling
from fermwatch_drivers.mqtt.client import Client
from fermwatch_drivers.mqtt.login import plain_client
from fermwatch_drivers.mqtt.options import BrokerOptions
from fermwatch_drivers.mqtt.refusals import explain_refusal

QOS = 1
SETTLES_S = 1.0  # after the last retained message of a subscription no more come
MOST_THERE = 10_000  # messages on our topics that are looked at: who floods them is not cleared up after
LEAVING_S = 2.0


class MqttPublisher:
    """One session after another; each begins with nothing known of what stands there."""

    def __init__(self, name: str, options: BrokerOptions, shelf: Shelf, every_s: float) -> None:
        self._options, self._shelf, self._every_s = options, shelf, every_s
        self._client_id = options.client_id or f"fermwatch-{name}.publish"

    async def run(self, documents: Callable[[], Awaitable[Documents]], connected: Callable[[str], None]) -> None:
        """See `fermwatch.contracts.publisher.Publisher`."""
        try:
            dialled = await dialling.dial(self._options)  # tells a wrong name or port better than the library
            dialled.connection.close()
            will = aiomqtt.Will(self._shelf.availability, self._shelf.gone, QOS, retain=True)
            client = await plain_client(self._options, self._client_id, will=will)
        except ProbeRefused as error:
            raise PublisherRefused(error.message, hint=error.hint) from error
        except ProbeError as error:
            raise PublisherUnavailable(error.message, hint=error.hint) from error
        place, entered = dialling.address(self._options), False
        try:
            async with client:
                entered = True
                connected(place)
                await self._keep(client, documents)
        except aiomqtt.MqttError as error:
            if entered:
                raise PublisherUnavailable(f"The connection to the broker at {place} ended.") from error
            told = explain_refusal(error, self._options, self._client_id)
            kind = PublisherRefused if isinstance(told, ProbeRefused) else PublisherUnavailable
            raise kind(told.message, hint=told.hint) from error

    async def _keep(self, client: Client, documents: Callable[[], Awaitable[Documents]]) -> None:
        stands = dict.fromkeys(await self._lies_there(client), "")  # of unknown text: said anew, or cleared
        try:
            while True:
                wanted = await documents()
                for topic, text in changes(stands, wanted):
                    await client.publish(topic, text.encode(), qos=QOS, retain=True)
                stands = dict(wanted)
                await self._pause(client)
        finally:
            with contextlib.suppress(aiomqtt.MqttError, TimeoutError):  # who leaves in order has no last will
                async with asyncio.timeout(LEAVING_S):
                    await client.publish(self._shelf.availability, self._shelf.gone.encode(), qos=QOS, retain=True)

    async def _lies_there(self, client: Client) -> set[str]:
        """Our topics in which something is retained."""
        for topics in self._shelf.ours:
            await client.subscribe(topics, qos=QOS)
        found: set[str] = set()
        messages = aiter(client.messages)
        while len(found) < MOST_THERE:
            try:
                async with asyncio.timeout(SETTLES_S):
                    message = await anext(messages)
            except TimeoutError:
                break
            if message.retain and message.payload:
                found.add(str(message.topic))
        for topics in self._shelf.ours:
            await client.unsubscribe(topics)
        return found

    async def _pause(self, client: Client) -> None:
        """Until the next look; ended by the loss of the connection."""
        try:
            async with asyncio.timeout(self._every_s):
                async for _ in client.messages:  # of none that is awaited: its end is what is told here
                    continue
        except TimeoutError:
            return


def changes(stands: Documents, wanted: Documents) -> Iterator[tuple[str, str]]:
    """What is to be published: documents that are not so there, then nothing for those that are none."""
    yield from ((topic, text) for topic, text in wanted.items() if stands.get(topic) != text)
    yield from ((topic, "") for topic in stands if topic not in wanted)


@dataclass(frozen=True, slots=True)
class MqttPublisherKind:
    """See `fermwatch.contracts.publisher.PublisherKind`."""

    contract_version: int = CONTRACT_VERSION
    options: type[BrokerOptions] = BrokerOptions

    def create(self, name: str, options: BrokerOptions, shelf: Shelf, every_s: float) -> MqttPublisher:
        return MqttPublisher(name, options, shelf, every_s)


PUBLISHER = MqttPublisherKind()
