"""What may be said about a broker."""

import pytest
from pydantic import ValidationError

from fermwatch_drivers.mqtt.options import MqttOptions

GOOD = {"host": "localhost", "topic": "cellar/{fermenter}"}


def test_the_port_follows_tls() -> None:
    assert MqttOptions.model_validate(GOOD).broker_port == 1883
    assert MqttOptions.model_validate({**GOOD, "tls": True}).broker_port == 8883
    assert MqttOptions.model_validate({**GOOD, "port": 4711}).broker_port == 4711


def test_a_password_in_the_configuration_is_refused_without_showing_it() -> None:
    with pytest.raises(ValidationError, match="password_file") as caught:
        MqttOptions.model_validate({**GOOD, "username": "brewer", "password": "hop-cone-7"})
    assert "hop-cone-7" not in str(caught.value)


@pytest.mark.parametrize(
    "more",
    [
        {"topic": "cellar/+"},
        {"password_env": "A", "password_file": "/a", "username": "b"},
        {"password_env": "A"},
        {"ca_file": "/a"},
        {"time_pointer": "/t"},
        {"payload": "json", "time_pointer": "t"},
        {"payload": "json", "time_pointer": ""},
        {"hosts": "x"},
        {"keepalive_s": 1},
    ],
)
def test_what_cannot_be_meant_is_refused(more: dict[str, object]) -> None:
    with pytest.raises(ValidationError):
        MqttOptions.model_validate({**GOOD, **more})
