"""What may be said of a controller behind a broker."""

import pytest
from pydantic import ValidationError

from fermwatch.contracts.controller import Abilities, DeadMan, SetPointAbility
from fermwatch.model.degree import Output
from fermwatch_drivers.mqtt.controller_options import MqttControllerOptions
from tests.conformance.controllers import on_a_broker

WHOLE = on_a_broker()
STATE = "cellar/fridge/state"
READ = {"host": "192.0.2.10", "measured": f"{STATE}#/beer", "set_point": f"{STATE}#/target", "cool": "cellar/fridge/c"}


def said(**changes: object) -> MqttControllerOptions:
    whole = {**WHOLE, **changes}
    return MqttControllerOptions.model_validate({key: value for key, value in whole.items() if value is not None})


def test_what_it_can_do_is_what_its_payloads_name() -> None:
    assert said().abilities == Abilities(
        SetPointAbility(-5.0, 35.0, 0.1, 100_000),
        frozenset(Output),
        DeadMan(120.0, told=True),
        ("probe-broken", "door-open", "outputs-dropped"),
    )
    assert said().channels == ("measured", "set-point", "cool", "heat", *said().alarms)
    read = MqttControllerOptions.model_validate(READ)
    assert read.abilities == Abilities()
    assert read.channels == ("measured", "set-point", "cool")
    assert read.state.topics == (STATE, "cellar/fridge/c"), "each is heard once"


def test_a_set_point_alone_is_one_plain_number() -> None:
    plain = {"measured": "f/beer", "set_point": "f/target", "write_topic": "f/set", "every_s": 5}
    limits = {"set_point_low_c": 0, "set_point_high_c": 30, "memory_writes": 0}
    options = MqttControllerOptions.model_validate({"host": "192.0.2.10", **plain, **limits})
    command = options.command("write")
    assert command is not None
    assert command.fill({"set-point": "18.5"}) == b"18.5"
    assert options.abilities.outputs == frozenset()
    assert options.abilities.set_point == SetPointAbility(0.0, 30.0, 0.1, None)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"measured": "cellar/+/state#/beer"}, r"measured: it is one topic"),
        ({"measured": f"{STATE}#beer"}, r'measured: a JSON pointer starts with "/"'),
        ({"measured": "$SYS/uptime"}, "the broker's own"),
        ({"measured": "a\x1bb"}, "printable"),
        ({"cool": "elsewhere#/cool"}, "echo: it stands in the one topic"),
        ({"alarms": {"heat": STATE}}, "alarms: heat is the name of something else"),
        ({"write_topic": STATE}, "write_topic: its state stands in that topic"),
        ({"write_topic": "cellar/#"}, "write_topic: it is one topic"),
        ({"write_payload": '{"target": {set-point}'}, "write_payload: it begins as JSON does, and is none"),
        ({"write_payload": '{"target": {setpoint}}'}, r"write_payload: \{setpoint\} means nothing here"),
        ({"write_payload": "{id}"}, r"write_payload: \{set-point\} is missing"),
        ({"switch_payload": '{"id": {id}}', "longest_lease_s": None}, "switch_payload: it names no output"),
        ({"switch_payload": None}, "switch_topic needs switch_payload"),
        ({"write_topic": None}, "write_payload needs write_topic"),
        ({"heat": None}, "heat is missing: what is ordered must be read back"),
        ({"set_point": None}, "set_point is missing: what is ordered must be read back"),
        ({"memory_writes": None}, "write_topic needs set_point_low_c, set_point_high_c and memory_writes"),
        ({"set_point_low_c": 40.0}, "set_point_low_c must be less"),
        ({"low_c": 200.0}, "low_c must be less"),
        ({"low_c": float("nan")}, "finite"),
        ({"longest_lease_s": None}, "belong together"),
        ({"dead_man_s": 60}, "belong together"),
        ({"unit": "SG"}, 'unit: "°C" or "°F"'),
        ({"ask_topic": None, "every_s": 30}, "at least every 5 s, or be asked"),
        ({"host": "mqtt://192.0.2.10"}, "host"),
        ({"password": "secret"}, "a password is never written here"),
    ],
)
def test_a_mistake_is_told(changes: dict[str, object], words: str) -> None:
    with pytest.raises(ValidationError, match=words) as told:
        said(**changes)
    assert "secret" not in str(told.value)


def test_one_that_shows_nothing_is_none() -> None:
    with pytest.raises(ValidationError, match="say at least where one of measured"):
        MqttControllerOptions.model_validate({"host": "192.0.2.10"})


def test_an_order_names_whole_outputs() -> None:
    assert said().switches == frozenset(Output)
    assert said(on="true", off="false").on == "true"
