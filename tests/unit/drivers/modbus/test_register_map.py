"""What may be said of a controller's registers, and what is said of a mistake."""

import typing
from collections.abc import Iterator
from pathlib import Path

import pytest
from pydantic import BaseModel, ValidationError

from fermwatch.errors import ConfigError
from fermwatch.model.degree import Output
from fermwatch_drivers.modbus.frames import Function, Read
from fermwatch_drivers.modbus.options import ModbusTcpOptions
from fermwatch_drivers.modbus.register_map import RegisterMap, map_in, parse, shipped, shipped_map

MEASURED = """
title = "a controller"
[measured]
function = "input"
address = 1
scale = 0.1
low = -40
high = 110
"""
SET_POINT = "[set-point]\nfunction = 'input'\naddress = 3\nlow = 0\nhigh = 30\nwritten = true\n"
SWITCHED = (
    MEASURED
    + "[outputs.cool]\nfunction = 'coil'\naddress = 2\n"
    + "[switching]\nfunction = 'holding'\naddress = 20\nbits = { cool = 0 }\nlongest_lease_s = 60\n"
)
DEAD_MAN = "[dead-man]\nfunction = 'holding'\naddress = 30\nusual_s = 60\n"


def tables(model: type[BaseModel]) -> Iterator[type[BaseModel]]:
    yield model
    for field in model.model_fields.values():
        for part in (field.annotation, *typing.get_args(field.annotation)):
            if isinstance(part, type) and issubclass(part, BaseModel):
                yield from tables(part)


@pytest.mark.parametrize("model", list(dict.fromkeys(tables(RegisterMap))), ids=lambda model: model.__name__)
def test_every_key_has_a_sentence_and_an_unknown_one_is_refused(model: type[BaseModel]) -> None:
    assert model.model_config["extra"] == "forbid"
    for name, field in model.model_fields.items():
        assert field.description, name
        assert field.description.endswith("."), field.description


def test_the_shipped_map_is_the_one_in_the_readme() -> None:
    (name,) = shipped()
    kind = shipped_map(name)
    assert kind.channels == ("measured", "set-point", Output.COOL, Output.HEAT, *kind.alarms)
    text = (Path(__file__).parents[4] / "docs" / "controller.md").read_text()
    start = text.index("# A register map, worked through")
    assert parse(text[start : text.index("```", start)], Path("controller.md")) == kind


@pytest.mark.parametrize(
    ("said", "key", "words"),
    [
        (MEASURED.replace("scale", "scael"), "measured.scael", "Keys here: function, address, type, scale"),
        (MEASURED.replace('"input"', '"inputs"'), "measured.function", "must be 'coil', 'discrete', 'holding' or "),
        (MEASURED.replace('"input"', '"coil"'), "measured", "a number stands in registers"),
        (MEASURED.replace("address = 1", "address = 65536"), "measured.address", "less than or equal to 65535"),
        (MEASURED.replace("address = 1", ""), "measured.address", "The register's address as it is sent"),
        (MEASURED.replace("0.1", "0"), "measured", "a scale of 0"),
        (MEASURED.replace("0.1", "nan"), "measured.scale", "a finite number"),
        (MEASURED.replace("-40", "140"), "measured", "low must be less than high"),
        (MEASURED + "[outputs.heat]\nfunction = 'input'\naddress = 2\n", "outputs.heat", "bit is missing"),
        (MEASURED + "[outputs.heat]\nfunction = 'coil'\naddress = 2\nbit = 1\n", "outputs.heat", "one bit already"),
        (MEASURED + "[outputs.fan]\nfunction = 'coil'\naddress = 2\n", "outputs.fan", "must be 'heat' or 'cool'"),
        (MEASURED + "[alarms.'Tür']\nfunction = 'coil'\naddress = 2\n", "alarms.Tür", "match pattern"),
        (SWITCHED.replace("[outputs.cool]", "[alarms.cool]"), "", "say where outputs.cool is shown"),
        (SWITCHED.replace("bits = { cool = 0 }", ""), "switching.bits", "Each output's bit"),
        (SWITCHED.replace("cool = 0", "cool = 0, heat = 0"), "switching", "two outputs have the same bit"),
        (SWITCHED.replace("'holding'", "'coil'"), "switching", "a lease is told in a register"),
        (SWITCHED.replace("'holding'", "'input'"), "switching.function", "must be"),
        (SWITCHED.replace("'holding'", "'coil'").replace("cool = 0", "cool = 3"), "switching", "follow each other"),
        (SWITCHED + DEAD_MAN, "", "say one of both"),
        (MEASURED + DEAD_MAN, "", "dead-man has no effect without switching"),
        (MEASURED + SET_POINT, "set-point", "needs step and memory_writes"),
        (MEASURED + SET_POINT + "step = 0.1\nmemory_writes = 0\n", "set-point", 'stands in function = "holding"'),
        (MEASURED + SET_POINT.replace("written = true", "step = 1"), "set-point", "no effect without written"),
        ('title = "x"\n', "", "it shows nothing: say where measured, set-point or outputs stand"),
        ("title = \n", "", "is not TOML: "),
    ],
)
def test_a_mistake_is_one_sentence_with_its_place_and_its_remedy(
    tmp_path: Path, said: str, key: str, words: str
) -> None:
    file = tmp_path / "fridge.toml"
    file.write_text(said)
    with pytest.raises(ConfigError) as wrong:
        ModbusTcpOptions(host="192.0.2.1", map_file=file)
    assert (wrong.value.file, wrong.value.key) == (file, key)
    assert str(wrong.value).startswith(f"{file}: {key}: " if key else f"{file}: ")
    assert words in str(wrong.value)
    assert "\n" not in str(wrong.value)


def test_a_file_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"none\.toml: cannot be read: No such file"):
        map_in(tmp_path / "none.toml")
    (tmp_path / "latin.toml").write_bytes(b'title = "K\xfchlschrank"')
    with pytest.raises(ConfigError, match=r"latin\.toml: is not UTF-8 text"):
        map_in(tmp_path / "latin.toml")
    with pytest.raises(ConfigError, match="none that ships is called"):
        ModbusTcpOptions(host="192.0.2.1", map="nothing")


def test_one_map_is_named_and_not_two() -> None:
    for said in ({}, {"map": "worked-example", "map_file": "/etc/a.toml"}):
        with pytest.raises(ValidationError, match="say either map, the name of one that ships, or map_file"):
            ModbusTcpOptions.model_validate({"host": "192.0.2.1", **said})


def test_a_number_of_two_registers_is_read_whole() -> None:
    wide = parse(MEASURED + 'type = "float32"\n', Path("wide.toml"))
    assert wide.measured is not None
    assert wide.measured.read == Read(Function.INPUT, 1, 2)
