"""A message is published on an MQTT broker as JSON, for whatever there takes it further.

One short connection each: a message is rare, and one that the broker has taken (QoS 1) is delivered. An alarm is not
retained, since who comes later must not take one of last week for one of now; a sign of life, which says when it was
given, may be.
"""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Self

import aiomqtt
from pydantic import Field, model_validator

from fermwatch.contracts.notifier import CONTRACT_VERSION, Notification
from fermwatch.errors import NotifierRefused, NotifierUnavailable, ProbeError, ProbeRefused
from fermwatch.text import clean
from fermwatch_drivers.mqtt import dialling
from fermwatch_drivers.mqtt.login import ANSWER_LIMIT_S, plain_client
from fermwatch_drivers.mqtt.options import BrokerOptions

_NOT_LET = (134, 135, 4, 5)  # reason codes of a refused login, MQTT 5.0 section 3.2.2.2 and 3.1.1 section 3.2.2.3


class MqttNotifyOptions(BrokerOptions):
    """Keys of a notifier that publishes: how to reach the broker, and the topic."""

    topic: str = Field(min_length=1, max_length=200, description='Where it is published: "cellar/told".')

    retain: bool = Field(False, description="Whether the broker keeps the last one: for a sign of life alone.")

    @model_validator(mode="after")
    def _one_topic(self) -> Self:
        if any(sign in self.topic for sign in "+#\0{}"):
            raise ValueError("topic: one topic is published on, without + and #")
        return self


class MqttNotifier:
    """Publishes each message once with QoS 1."""

    def __init__(self, name: str, options: MqttNotifyOptions) -> None:
        self._options = options
        self._client_id = options.client_id or f"fermwatch-{name}.notify"

    async def send(self, message: Notification) -> None:
        place = dialling.address(self._options)
        try:
            client = await plain_client(self._options, self._client_id)
            async with client:
                payload = json.dumps(message.as_plain()).encode()
                await client.publish(
                    self._options.topic, payload, qos=1, retain=self._options.retain, timeout=ANSWER_LIMIT_S
                )
        except ProbeRefused as error:
            raise NotifierRefused(error.message, hint=error.hint) from error
        except (ProbeError, OSError) as error:
            raise NotifierUnavailable(f"The broker at {place} cannot be reached ({clean(str(error), 100)}).") from error
        except aiomqtt.MqttCodeError as error:
            code = getattr(error.rc, "value", error.rc)
            if code in _NOT_LET:
                raise NotifierRefused(
                    f"The broker at {place} does not let us in.", hint="Look at username and password_file."
                ) from error
            raise NotifierUnavailable(f"The broker at {place} did not take it ({clean(str(error), 100)}).") from error
        except aiomqtt.MqttError as error:
            raise NotifierUnavailable(f"The broker at {place} cannot be reached ({clean(str(error), 100)}).") from error


@dataclass(frozen=True, slots=True)
class MqttNotifierKind:
    """See `fermwatch.contracts.notifier.NotifierKind`."""

    contract_version: int = CONTRACT_VERSION
    options: type[MqttNotifyOptions] = MqttNotifyOptions

    def create(self, name: str, options: MqttNotifyOptions, directory: Path) -> MqttNotifier:  # noqa: ARG002
        return MqttNotifier(name, options)


NOTIFIER = MqttNotifierKind()
