"""What a controller behind a broker says of itself, and what others say in its place."""

import json
from datetime import UTC, datetime

import pytest

from fermwatch.contracts.controller import Seen
from fermwatch.model.degree import Output
from fermwatch.model.quantity import Unit
from fermwatch_drivers.hearing import Heard
from fermwatch_drivers.mqtt.state import SaidState, StateMap, parse_place

AT = datetime(2026, 3, 1, 12, tzinfo=UTC)
S = "fridge/state"
GOOD = {"beer": 18.4, "target": 18, "cool": True, "heat": False, "door": 0, "last": 7}


def state(unit: Unit = Unit.CELSIUS, **places: str) -> StateMap:
    named = {"measured": f"{S}#/beer", "set-point": f"{S}#/target", "cool": f"{S}#/cool", "heat": f"{S}#/heat"}
    all_of_them = {**named, "echo": f"{S}#/last", "door": f"{S}#/door", **places}
    read = {name: parse_place(text) for name, text in all_of_them.items()}
    return StateMap(read, ("door",), unit, ("null", "-127"), -40.0, 110.0)


def seen(payload: bytes | object, heard: Heard | None = None, unit: Unit = Unit.CELSIUS) -> Seen:
    data = payload if isinstance(payload, bytes) else json.dumps(payload).encode()
    return SaidState(state(unit), {S: data}, Heard() if heard is None else heard).seen(AT)


def test_it_says_what_it_says() -> None:
    assert seen(GOOD) == Seen(AT, 18.4, 18.0, frozenset({Output.COOL}))
    assert seen({**GOOD, "door": "on", "cool": "off"}) == Seen(AT, 18.4, 18.0, frozenset(), alarms=frozenset({"door"}))


def test_plain_numbers_stand_in_topics_of_their_own() -> None:
    places = {name: parse_place(f"f/{name}") for name in ("measured", "set-point", "heat")}
    plain = StateMap(places, (), Unit.CELSIUS, (), -40.0, 110.0)
    payloads = {"f/measured": b"18.4 C\n", "f/set-point": b"66.2 F", "f/heat": b"on"}
    found = SaidState(plain, payloads, Heard()).seen(AT)
    assert (found.measured_c, found.on) == (18.4, frozenset({Output.HEAT}))
    assert found.set_point_c == pytest.approx(19.0)


def test_fahrenheit_is_its_unit_unless_it_says_another() -> None:
    found = seen({**GOOD, "beer": 65.12, "target": "18 C"}, unit=Unit.FAHRENHEIT)
    assert found.measured_c == pytest.approx(18.4)
    assert found.set_point_c == 18.0
    assert seen({**GOOD, "beer": "1.048 SG"}).measured_c is None


@pytest.mark.parametrize("word", [None, -127])
def test_a_broken_probe_is_told_from_a_cold_one(word: object) -> None:
    heard = Heard()
    found = seen({**GOOD, "beer": word}, heard)
    assert (found.measured_c, found.set_point_c) == (None, 18.0)
    assert "broken" in heard.delivery().rejections[0].reason


@pytest.mark.parametrize(
    "payload",
    [
        b"",
        b"18.4",
        b"[]",
        b"null",
        b"{",
        b'{"beer": NaN, "target": NaN, "cool": NaN, "heat": NaN}',
        b'{"beer": 1e999, "target": -1e999, "cool": 1e999, "heat": 1e999}',
        b'{"beer": Infinity, "target": Infinity}',
        b'{"beer": ' + b"9" * 5000 + b', "target": 1}',
        b"[" * 60_000,
        b'{"beer":' * 5_000 + b"1" + b"}" * 5_000,
        b"\xff\xfe\x00",
        b'{"beer": "\\u001b[2J\\u0007", "target": "\\ud800", "cool": "\\u202e"}',
        b'{"beer": {"beer": 18}, "target": [18], "cool": [], "heat": {}}',
        b'{"beer": true, "target": false, "cool": 2, "heat": -1}',
        b'{"beer": 500, "target": "18 bar", "cool": 0.5, "heat": "yes"}',
        b'{"beer": 18.4' + b" " * 70_000 + b"}",
        b'{"beer": "0x12", "target": "1_8", "cool": "", "heat": null}',
    ],
)
def test_hostile_payloads_say_nothing_and_are_counted(payload: bytes) -> None:
    heard = Heard()
    assert seen(payload, heard) == Seen(AT)
    told = heard.delivery()
    assert told.rejections
    assert all(f"{one.reason}{one.sample}{one.channel}".isprintable() for one in told.rejections)
    assert SaidState(state(), {S: payload}, Heard()).echo() == ""


def test_what_is_lacking_is_not_known_and_leaves_the_rest() -> None:
    heard = Heard()
    assert seen({"beer": 18.4, "cool": 1}, heard) == Seen(AT, 18.4), "one output alone is no picture of both"
    assert {one.channel for one in heard.delivery().rejections} == {"set-point", "heat", "door"}


@pytest.mark.parametrize(("said", "echo"), [(7, "7"), ("7", "7"), (7.0, ""), (True, ""), (None, "")])
def test_a_number_is_repeated_as_it_was_said(said: object, echo: str) -> None:
    assert SaidState(state(), {S: json.dumps({**GOOD, "last": said}).encode()}, Heard()).echo() == echo
