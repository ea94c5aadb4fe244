"""What may be asked by a map, and the one write that asks it."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.contracts.controller import Abilities, DeadMan, SetPoint, SetPointAbility, Switch
from fermwatch.model.degree import Output
from fermwatch_drivers.modbus.frames import Function, Write
from fermwatch_drivers.modbus.orders import abilities_of, write_for
from fermwatch_drivers.modbus.register_map import RegisterMap, parse, shipped_map
from fermwatch_drivers.modbus.registers import number_at

EXAMPLE = shipped_map("worked-example")
COOL, HEAT = frozenset({Output.COOL}), frozenset({Output.HEAT})
SHOWN = '[outputs.cool]\nfunction = "coil"\naddress = 2\n[outputs.heat]\nfunction = "coil"\naddress = 3\n'


def kind(text: str, *, unit: str = "°C") -> RegisterMap:
    return parse(f'title = "x"\nunit = "{unit}"\n{text}', Path("x.toml"))


def set_point(*, unit: str = "°C", low: float = -5, high: float = 35, more: str = "") -> RegisterMap:
    return kind(
        '[set-point]\nfunction = "holding"\naddress = 10\nscale = 0.1\nwritten = true\nstep = 0.1\nmemory_writes = 0\n'
        f"low = {low}\nhigh = {high}\n{more}",
        unit=unit,
    )


def test_the_example_takes_set_points_and_leases_and_says_how_many_writes_it_endures() -> None:
    assert abilities_of(EXAMPLE) == Abilities(
        SetPointAbility(-5.0, 35.0, 0.1, 100_000),
        COOL | HEAT,
        DeadMan(120.0, told=True),
        ("probe-broken", "door-open", "outputs-dropped"),
    )


def test_what_is_only_shown_can_be_asked_nothing() -> None:
    shown = kind(SHOWN)
    assert abilities_of(shown) == Abilities()
    for what in (SetPoint(18.0), Switch(COOL, 60.0), Switch(frozenset(), 60.0)):
        with pytest.raises(ValueError, match="cannot"):
            write_for(shown, what)


@given(st.integers(-50, 350), st.sampled_from(["int16", "int32", "float32"]), st.booleans())
def test_a_set_point_that_is_written_reads_as_it_was_meant(tenths: int, of_type: str, low_first: bool) -> None:
    order = "low-first" if low_first else "high-first"
    written = parse(
        f'title = "x"\nword_order = "{order}"\n[set-point]\nfunction = "holding"\naddress = 10\nscale = 0.1\n'
        f"written = true\nstep = 0.1\nmemory_writes = 0\nlow = -5\nhigh = 35\ntype = '{of_type}'\n",
        Path("x.toml"),
    )
    assert written.set_point is not None
    write = write_for(written, SetPoint(tenths / 10))
    words = {(Function.HOLDING, write.address + at): word for at, word in enumerate(write.words)}
    assert number_at(written.set_point, words, order) == pytest.approx(tenths, abs=1e-4)


def test_a_set_point_outside_what_it_takes_is_never_written() -> None:
    for target_c in (-5.1, 35.1, float("nan"), float("inf"), -float("inf")):
        with pytest.raises(ValueError, match="outside -5 to 35"):
            write_for(EXAMPLE, SetPoint(target_c))
    with pytest.raises(ValueError, match="does not fit into int16"):
        write_for(set_point(high=5000), SetPoint(4000.0))


def test_a_set_point_in_fahrenheit_is_written_in_fahrenheit() -> None:
    """20 °C is 68 °F, by definition."""
    fahrenheit = set_point(unit="°F", low=23, high=95)
    ability = abilities_of(fahrenheit).set_point
    assert ability is not None
    assert ability.low_c == pytest.approx(-5.0)
    assert ability.high_c == pytest.approx(35.0)
    assert ability.step_c == pytest.approx(0.1 / 1.8)
    assert ability.writes is None
    assert write_for(fahrenheit, SetPoint(20.0)) == Write(Function.HOLDING, 10, (680,))


def test_outputs_and_their_lease_are_one_write() -> None:
    assert write_for(EXAMPLE, Switch(COOL, 60.9)) == Write(Function.HOLDING, 20, (1, 60)), "never longer than leased"
    assert write_for(EXAMPLE, Switch(HEAT, 120.0)) == Write(Function.HOLDING, 20, (2, 120))
    assert write_for(EXAMPLE, Switch(frozenset(), 30.0)) == Write(Function.HOLDING, 20, (0, 30))
    for lease_s in (120.5, 0.0, -1.0, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="lease"):
            write_for(EXAMPLE, Switch(COOL, lease_s))


def test_coils_are_switched_all_at_once_and_absolutely() -> None:
    coils = kind(SHOWN + '[switching]\nfunction = "coil"\naddress = 4\nbits = { heat = 1, cool = 0 }\n')
    assert abilities_of(coils).dead_man is None
    assert write_for(coils, Switch(COOL, 60.0)) == Write(Function.COIL, 4, (1, 0))
    assert write_for(coils, Switch(HEAT, 60.0)) == Write(Function.COIL, 4, (0, 1))
    assert write_for(coils, Switch(frozenset(), 60.0)) == Write(Function.COIL, 4, (0, 0))


def test_a_dead_man_that_is_a_setting_is_shown_and_not_told() -> None:
    setting = kind(
        SHOWN + '[switching]\nfunction = "holding"\naddress = 20\nbits = { cool = 3 }\n'
        '[dead-man]\nfunction = "holding"\naddress = 30\nusual_s = 60\n'
    )
    assert abilities_of(setting).dead_man == DeadMan(60.0, told=False)
    assert write_for(setting, Switch(COOL, 90.0)) == Write(Function.HOLDING, 20, (8,))
    with pytest.raises(ValueError, match="cannot switch heat"):
        write_for(setting, Switch(HEAT, 90.0))
