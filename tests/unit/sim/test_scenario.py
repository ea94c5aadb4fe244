"""Scenario files: every one shipped loads, and a slip in one is told with its place."""

import itertools
import re
from pathlib import Path

import pytest

from fermwatch.errors import ConfigError
from fermwatch.model.quantity import Quantity
from fermwatch_sim.scenario import WireKind, load, shipped

GOOD = """
title = "t"
story = "s"
length_h = 24.0
set_point_c = 19.0
lead = "left"

[[fermenter]]
slug = "left"
name = "Left"
volume_l = 25.0

[fermenter.batch]
name = "Any Ale"
yeast = "clean-ale"
original_sg = 1.050
volume_l = 20.0
pitched_h = -10.0
pitch_c = 19.0

[[fermenter.probes]]
what = "beer"
unit = "°C"
"""


def write(folder: Path, text: str) -> Path:
    path = folder / "own.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_stories_promised_are_shipped() -> None:
    assert set(shipped()) == {"demo", "fridge-open", "healthy-ale", "hot-pitch", "silent-probe", "stall"}


@pytest.mark.parametrize("name", shipped())
def test_a_shipped_scenario_loads_and_can_be_watched(name: str) -> None:
    scenario = load(name)
    slugs = [probe.slug for probe in scenario.probes]
    assert len(set(slugs)) == len(slugs)
    for fermenter in scenario.fermenters:
        measured = {probe.quantity for probe in scenario.probes if probe.vessel == fermenter.slug}
        assert {Quantity.BEER_TEMPERATURE, Quantity.GRAVITY} <= measured
        assert fermenter.batch.volume_l < fermenter.volume_l, "there is headspace"
        assert fermenter.batch.yeast.kind == fermenter.batch.kind


def test_the_demo_has_three_fermenters_on_two_wires_in_different_units() -> None:
    scenario = load("demo")
    assert len(scenario.vessels) == 3
    assert {probe.wire for probe in scenario.probes} == set(WireKind)
    assert len({probe.unit for probe in scenario.probes if probe.quantity is Quantity.GRAVITY}) == 3


def test_acts_are_put_in_order_of_time() -> None:
    hours = [act.at_h for act in load("demo").acts]
    assert all(earlier <= later for earlier, later in itertools.pairwise(hours))


def test_a_file_of_ones_own_loads(tmp_path: Path) -> None:
    scenario = load(write(tmp_path, GOOD))
    assert scenario.begins_h == -10.0
    assert [probe.slug for probe in scenario.probes] == ["left-beer"]


ACT = "\n[[act]]\nat_h = 1.0\n"


@pytest.mark.parametrize(
    ("slip", "key", "told"),
    [
        (("length_h = 24.0", "length = 24.0"), "length_h", "Field required"),
        (('lead = "left"', 'lead = "lift"'), "", "no fermenter is called 'lift'; there are: left"),
        (("original_sg = 1.050", "original_sg = 1050"), "fermenter.0.batch.original_sg", "less than 1.15"),
        (("pitched_h = -10.0", "pitched_h = nan"), "fermenter.0.batch.pitched_h", "finite number"),
        (('yeast = "clean-ale"', 'yeast = "clean-ail"'), "fermenter.0.batch.yeast", "there are: clean-ale, "),
        (('unit = "°C"', 'unit = "SG"'), "fermenter.0.probes.0", "does not speak SG; use one of: °C, °F"),
        (('slug = "left"', 'slug = "[/]"'), "fermenter.0.slug", "pattern"),
        (("[[fermenter]]", "[room]\nmeen_c = 20.0\n[[fermenter]]"), "room.meen_c", "Unexpected keyword"),
        (('unit = "°C"\n', f'unit = "°C"\n{ACT}kind = "rouse"\n'), "act.0", "`fermenter` is missing"),
        (('unit = "°C"\n', f'unit = "°C"\n{ACT}kind = "door"\n'), "act.0", "a door needs `hours`"),
        (
            ('unit = "°C"\n', f'unit = "°C"\n{ACT}kind = "fault"\nfermenter = "left"\nprobe = "air"\n'),
            "act.0",
            "a fault needs",
        ),
        (
            (
                'unit = "°C"\n',
                f'unit = "°C"\n{ACT}kind = "fault"\nfermenter = "left"\nprobe = "air"\nfault = "stuck"\nhours = 1.0\n',
            ),
            "",
            "there is no probe left-air",
        ),
    ],
)
def test_a_slip_names_file_key_and_what_is_wrong(tmp_path: Path, slip: tuple[str, str], key: str, told: str) -> None:
    path = write(tmp_path, GOOD.replace(*slip))
    with pytest.raises(ConfigError, match=re.escape(told)) as caught:
        load(path)
    assert caught.value.file == path
    assert caught.value.key == key


def test_what_is_not_toml_is_told_with_its_file(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="is not TOML"):
        load(write(tmp_path, "title = "))


def test_what_is_not_text_is_told_with_its_file(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(ConfigError, match="cannot be read"):
        load(path)


@pytest.mark.parametrize("name", ["no-such", Path("no-such.toml")])
def test_an_unknown_scenario_is_told_with_those_that_there_are(name: str | Path) -> None:
    with pytest.raises(ConfigError, match=r"no-such\.toml: there is no such scenario\. Shipped: demo, "):
        load(name)
