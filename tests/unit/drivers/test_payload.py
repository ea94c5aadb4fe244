"""A message's payload to readings."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.contracts.driver import Delivery
from fermwatch.errors import ConfigError
from fermwatch.model.quantity import Unit
from fermwatch_drivers.hearing import Heard
from fermwatch_drivers.mqtt.options import MqttOptions
from fermwatch_drivers.mqtt.payload import LARGEST_PAYLOAD, Arrival, reader_for

NOW = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


def options(**more: object) -> MqttOptions:
    return MqttOptions.model_validate({"host": "localhost", "topic": "cellar/{fermenter}/{what}", **more})


def hear(said: str | bytes, channels: list[str], *, topic: str = "cellar/left/state", **more: object) -> Delivery:
    data = said.encode() if isinstance(said, str) else said
    arrival = Arrival(topic, data[:LARGEST_PAYLOAD], len(data), NOW, retained=False, redelivered=True, packet_id=7)
    heard = Heard()
    reader_for("broker", options(**more), channels).read(arrival, heard)
    return heard.delivery()


def test_a_number_comes_under_the_names_of_its_levels() -> None:
    (reading,) = hear("66.2 F\n", ["left/state"]).readings
    assert (reading.channel, reading.value, reading.unit) == ("left/state", 66.2, Unit.FAHRENHEIT)
    assert reading.redelivered
    assert reading.message_id == 7


def test_json_parts_come_under_their_pointer() -> None:
    said = hear(
        '{"temp": {"celsius": 19.5}, "a b": 3, "at": 1772366340, "n": 9}',
        ["left/state#/temp/celsius", "left/state#/a%20b"],
        payload="json",
        time_pointer="/at",
        sequence_pointer="/n",
    )
    assert [(one.channel, one.value, one.sequence) for one in said.readings] == [
        ("left/state#/temp/celsius", 19.5, 9),
        ("left/state#/a%20b", 3.0, 9),
    ]
    assert said.readings[0].measured_at == datetime(2026, 3, 1, 11, 59, tzinfo=UTC)


def test_json_that_is_a_number_needs_no_pointer() -> None:
    assert hear("19.5", ["left/state"], payload="json").readings[0].channel == "left/state"


def test_an_unbound_part_comes_under_a_name_that_can_be_configured() -> None:
    (taught,) = hear('{"a b/c": 3}', [], payload="json").readings
    assert taught.channel == "left/state#/a%20b~1c"
    assert hear('{"a b/c": 3}', [taught.channel], payload="json").readings[0].value == 3


@pytest.mark.parametrize(
    "payload", ["", "NaN", "{", '{"t": NaN}', '{"t": 1e999}', '{"t": null}', '{"t": []}', b"\xff", "[" * 50_000]
)
def test_a_damaged_payload_is_one_rejection(payload: str | bytes) -> None:
    said = hear(payload, ["left/state#/t"], payload="json")
    assert said.readings == ()
    assert len(said.rejections) == 1


def test_a_megabyte_is_refused_in_one_short_line() -> None:
    (rejection,) = hear(b"9" * 1_000_000, ["left/state"]).rejections
    assert "64 KiB" in rejection.reason
    assert len(rejection.sample) < 100


@pytest.mark.parametrize("topic", ["cellar/\x1b[2J/temp", "cellar/[b]/temp", "cellar/\u202eleft/temp"])
def test_a_hostile_topic_comes_out_harmless(topic: str) -> None:
    (reading,) = hear("19.5", [], topic=topic).readings
    assert not set(reading.channel) & {"\x1b", "\u202e"}


@pytest.mark.parametrize("name", ["\\ud800", "\\u001b[2J", "\\u202e", "\\u0000", "[/]", ""])
def test_a_hostile_key_comes_out_harmless(name: str) -> None:
    (reading,) = hear(f'{{"{name}": 3}}', [], payload="json").readings
    assert reading.channel.isprintable()


@pytest.mark.parametrize(
    ("channel", "payload"),
    [("left", "number"), ("a/b/c", "number"), ("left/state#/t", "number"), ("left/state#t", "json"), ("", "json")],
)
def test_a_channel_that_cannot_be_meant_is_a_configuration_error(channel: str, payload: str) -> None:
    with pytest.raises(ConfigError, match="broker") as caught:
        reader_for("broker", options(payload=payload), [channel])
    assert caught.value.hint


@given(st.binary(max_size=300), st.sampled_from(["number", "json"]), st.text(max_size=20))
def test_no_payload_raises_anything(payload: bytes, kind: str, topic: str) -> None:
    channels = ["left/state#/t"] if kind == "json" else ["left/state"]
    hear(payload, channels, payload=kind, topic="cellar/left/" + topic)
