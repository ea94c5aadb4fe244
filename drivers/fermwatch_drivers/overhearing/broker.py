"""Listening to a broker: a connection of its own that the broker forgets, and nothing is published."""

import logging
import uuid

import aiomqtt

from fermwatch.contracts.overhearing import PlaceNews, Told, Utterance
from fermwatch.errors import ProbeError
from fermwatch.text import clean
from fermwatch_drivers.mqtt import dialling, refusals
from fermwatch_drivers.mqtt.client import Client
from fermwatch_drivers.mqtt.options import MqttOptions
from fermwatch_drivers.overhearing.messages import read_message

_UNREAD = "no number, and no JSON with one in it"
_QUIET = logging.getLogger("fermwatch_drivers.overhearing.library")  # what it says, our errors say better
_QUIET.setLevel(logging.CRITICAL + 1)
_MOST_WAITING = 2_000  # messages; of what comes faster than it is looked at, some is left out
_NOT_OURS = ("topic", "payload", "client_id")


async def overhear_broker(options: MqttOptions, told: Told) -> None:
    """Tell every message under `options.topic`, as "#", until cancelled or the connection is lost, which is told."""
    place = dialling.address(options)
    try:
        try:
            await _listen(options, aiomqtt.ProtocolVersion.V5, place, told)
        except aiomqtt.MqttError as error:
            if refusals.reason_code(error) != refusals.UNSUPPORTED_PROTOCOL_VERSION:
                raise
            await _listen(options, aiomqtt.ProtocolVersion.V311, place, told)
    except ProbeError as error:
        told(PlaceNews(place, error.message, error.hint, over=True))
    except aiomqtt.MqttError as error:
        loss = refusals.explain_refusal(error, options, "fermwatch listen")
        told(PlaceNews(place, loss.message, loss.hint, over=True))


async def _listen(options: MqttOptions, version: aiomqtt.ProtocolVersion, place: str, told: Told) -> None:
    dialled = await dialling.dial(options)  # tells a wrong name or port better than the library
    dialled.connection.close()
    newest = version is aiomqtt.ProtocolVersion.V5
    client = Client(
        options.host,
        options.broker_port,
        username=options.username,
        password=await dialling.password(options),
        identifier=f"fermwatch-listen-{uuid.uuid4().hex[:8]}",
        protocol=version,
        tls_context=dialled.tls,
        timeout=10.0,
        keepalive=options.keepalive_s,
        clean_session=None if newest else True,
        logger=_QUIET,
        max_queued_incoming_messages=_MOST_WAITING,
    )
    async with client:
        await client.subscribe(options.topic, qos=0)
        told(PlaceNews(place, f"connected, hears {options.topic}"))
        async for message in client.messages:
            told(_utterance(message, options, place))


def _utterance(message: aiomqtt.Message, options: MqttOptions, place: str) -> Utterance:
    topic, payload = str(message.topic), bytes(message.payload)
    kind, fields = read_message(topic, payload)
    said = options.model_dump(mode="json", exclude_defaults=True)
    settings = tuple((key, value) for key, value in said.items() if key not in _NOT_OURS)
    return Utterance(
        place,
        "mqtt",
        (*settings, *((("payload", kind),) if kind else ())),
        clean(payload, 200),
        fields,
        topic,
        bool(message.retain),
        "" if fields else _UNREAD,
    )
