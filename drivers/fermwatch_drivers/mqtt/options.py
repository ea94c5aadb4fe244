"""What a source with the driver "mqtt" may say in the configuration."""

from enum import StrEnum
from pathlib import Path
from typing import Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from fermwatch_drivers.documents import parse_pointer
from fermwatch_drivers.hosts import refuse_more_than_a_host
from fermwatch_drivers.mqtt.topic import parse_topic

_ONE_WEEK_S = 7 * 86_400


class Payload(StrEnum):
    NUMBER = "number"
    JSON = "json"


class BrokerOptions(BaseModel):
    """How to reach a broker and log in there."""

    model_config = ConfigDict(extra="forbid", frozen=True, hide_input_in_errors=True)

    host: str = Field(min_length=1, description="The broker's host name or address.")
    port: int | None = Field(
        default=None, ge=1, le=65_535, description="The broker's port; 1883 without it, 8883 with TLS."
    )
    username: str | None = Field(
        default=None, min_length=1, description="The name to log in with, where the broker wants one."
    )
    password_file: Path | None = Field(default=None, description="A file that holds nothing but the password.")
    password_env: str | None = Field(
        default=None, min_length=1, description="The environment variable that holds the password."
    )
    password_credential: str | None = Field(
        default=None, min_length=1, description="The systemd credential that holds the password (LoadCredential=)."
    )
    tls: bool = Field(
        default=False, description="Whether to encrypt, and to check the broker's certificate and host name."
    )
    ca_file: Path | None = Field(
        default=None,
        description="The authority that the broker's certificate must come from, in PEM; the system's where not given.",
    )
    client_id: str | None = Field(
        default=None,
        min_length=1,
        max_length=128,
        description='The name under which the broker knows us, its own for each watcher; "fermwatch-" and the name of '
        "the first source that logs in alike where not given.",
    )
    keepalive_s: int = Field(
        default=30, ge=5, le=3600, description="Seconds of silence after which the connection is tested."
    )

    @property
    def broker_port(self) -> int:
        return self.port or (8883 if self.tls else 1883)

    @model_validator(mode="before")
    @classmethod
    def _no_password_here(cls, said: object) -> object:
        """Before anything else, so that what is said in the wrong place is in no error that quotes it."""
        if isinstance(said, dict) and "password" in said:
            raise ValueError("a password is never written here: use password_file, password_env or password_credential")
        besides = ", tls = true, username and password_file"
        refuse_more_than_a_host(said, "broker", default_port=1883, besides=besides)
        return said

    @model_validator(mode="after")
    def _login_fits_together(self) -> Self:
        ways = [way for way in (self.password_file, self.password_env, self.password_credential) if way is not None]
        if len(ways) > 1:
            raise ValueError("give one of password_file, password_env and password_credential")
        if ways and self.username is None:
            raise ValueError("a password needs a username")
        if self.ca_file is not None and not self.tls:
            raise ValueError("ca_file has no effect without tls = true")
        return self


class MqttOptions(BrokerOptions):
    """One broker, one topic with named levels, and the shape of what is published there."""

    topic: str = Field(
        description="The topics to read, with a name in braces for each level that varies, as "
        '"cellar/{fermenter}/{what}"; a last level "#" takes whatever follows.'
    )
    payload: Payload = Field(
        default=Payload.NUMBER, description='What is published: "number" (19.4, also with a unit) or "json".'
    )
    time_pointer: str | None = Field(
        default=None,
        description='The JSON pointer to the device\'s own time, as "/time"; without it the time of receipt counts.',
    )
    sequence_pointer: str | None = Field(
        default=None,
        description="The JSON pointer to the device's running number, by which a message delivered twice is known.",
    )
    session_expiry_s: int = Field(
        default=_ONE_WEEK_S,
        ge=0,
        le=4_294_967_294,
        description="Seconds for which the broker keeps messages while the watcher is away.",
    )

    @field_validator("topic")
    @classmethod
    def _topic_is_one(cls, topic: str) -> str:
        parse_topic(topic)
        return topic

    @field_validator("time_pointer", "sequence_pointer")
    @classmethod
    def _pointer_is_one(cls, pointer: str | None) -> str | None:
        if pointer is not None and not parse_pointer(pointer):
            raise ValueError('a JSON pointer to a part of the object is wanted, as "/time"')
        return pointer

    @model_validator(mode="after")
    def _payload_has_pointers(self) -> Self:
        if self.payload is Payload.NUMBER and (self.time_pointer or self.sequence_pointer):
            raise ValueError('time_pointer and sequence_pointer need payload = "json"')
        return self
