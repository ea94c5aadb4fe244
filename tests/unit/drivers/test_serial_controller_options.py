"""What may be said of a controller that is asked by lines."""

import pytest
from pydantic import ValidationError

from fermwatch.contracts.controller import Abilities, DeadMan, SetPointAbility
from fermwatch.model.degree import Output
from fermwatch_drivers.serial_line.controller_options import SerialControllerOptions
from tests.conformance.controllers import BOARD

WHOLE = {"port": "/dev/board", **BOARD}
READ = {"port": "/dev/board", "ask": "read", "state": "t={measured} sp={set-point} cool={cool}"}


def said(**changes: object) -> SerialControllerOptions:
    return SerialControllerOptions.model_validate({**WHOLE, **changes})


def test_what_it_can_do_is_what_its_lines_name() -> None:
    assert said().abilities == Abilities(
        SetPointAbility(-5.0, 35.0, 0.1, 100_000),
        frozenset(Output),
        DeadMan(120.0, told=True),
        ("probe-broken", "door-open", "outputs-dropped"),
    )
    assert said().channels == ("measured", "set-point", "cool", "heat", *said().alarms)
    read = SerialControllerOptions.model_validate(READ)
    assert read.abilities == Abilities()
    assert read.channels == ("measured", "set-point", "cool")


def test_a_dead_man_that_is_a_setting_is_shown() -> None:
    lines = {"state": "t={measured} cool={cool} for={dead-man}", "switch": "cool {cool}", "dead_man_s": 60}
    assert SerialControllerOptions.model_validate({**READ, **lines}).abilities.dead_man == DeadMan(60.0, told=False)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"ask": "state {set-point}"}, r"ask: \{set-point\} means nothing here"),
        ({"ask": "{id}{id}"}, "ask: "),
        ({"state": "state {id} t={measured} sp={set-point} door={doors}"}, r"state: \{doors\} means nothing here"),
        ({"write": "set {id}"}, r"write: \{set-point\} is missing"),
        ({"memory_writes": None}, "write needs set_point_low_c, set_point_high_c and memory_writes"),
        ({"set_point_low_c": 40.0}, "set_point_low_c must be less"),
        ({"longest_lease_s": None}, "belong together"),
        ({"dead_man_s": 60}, "belong together"),
        ({"switch": "out {id}", "longest_lease_s": None}, "names nothing that it would change"),
        (
            {**READ, "alarms": [], "longest_lease_s": 60},
            r"state: \{heat\} is missing: what is written must be read back",
        ),
        ({"done": "ok {cool}"}, r"done: \{cool\} means nothing here"),
        ({"every_s": 200}, "silence_timeout_s is at least twice every_s"),
        ({"low_c": float("nan")}, "finite"),
    ],
)
def test_a_mistake_is_told(changes: dict[str, object], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        said(**changes)
