"""The library's client, as it logs in at a broker."""

import logging

import aiomqtt
from paho.mqtt.client import MQTT_CLEAN_START_FIRST_ONLY
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from fermwatch_drivers.mqtt import dialling
from fermwatch_drivers.mqtt.client import Client
from fermwatch_drivers.mqtt.options import BrokerOptions

V5, V311 = aiomqtt.ProtocolVersion.V5, aiomqtt.ProtocolVersion.V311
ANSWER_LIMIT_S = 10.0  # for the broker's answer to a login or a subscription
FAILURE = 0x80  # reason codes from here on are refusals, MQTT 5.0 section 2.4
_LARGEST_PACKET = 8 * 1024 * 1024  # bytes; larger ones the broker keeps to itself
_QUIET = logging.getLogger("fermwatch_drivers.mqtt.library")  # what it says, our errors say better
_QUIET.setLevel(logging.CRITICAL + 1)


async def client_for(
    options: BrokerOptions,
    client_id: str,
    *,
    version: aiomqtt.ProtocolVersion,
    session_expiry_s: int,
    receive_maximum: int,
) -> Client:
    """session_expiry_s: for how long the broker remembers us; with 0 it begins anew each time, and keeps nothing.

    receive_maximum: messages that it may send before the first is acknowledged. Raises ProbeRefused where the password
    cannot be read.
    """
    password = await dialling.password(options)
    properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
    properties.ReceiveMaximum = receive_maximum
    properties.MaximumPacketSize = _LARGEST_PACKET
    properties.SessionExpiryInterval = session_expiry_s
    newest = version is V5
    return Client(
        options.host,
        options.broker_port,
        username=options.username,
        password=password,
        identifier=client_id,
        protocol=version,
        timeout=ANSWER_LIMIT_S,
        keepalive=options.keepalive_s,
        clean_session=None if newest else False,
        clean_start=session_expiry_s == 0 if newest else MQTT_CLEAN_START_FIRST_ONLY,
        properties=properties if newest else None,
        logger=_QUIET,
    )


async def plain_client(options: BrokerOptions, client_id: str, *, will: aiomqtt.Will | None = None) -> Client:
    """For who only publishes: MQTT 3.1.1 is enough, and every broker knows it. Raises ProbeRefused."""
    return Client(
        options.host,
        options.broker_port,
        username=options.username,
        password=await dialling.password(options),
        identifier=client_id,
        protocol=V311,
        timeout=ANSWER_LIMIT_S,
        keepalive=options.keepalive_s,
        tls_context=await dialling.tls_context(options),
        will=will,
        logger=_QUIET,
    )
