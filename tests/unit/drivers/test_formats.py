"""A line's text to readings, in each format."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.contracts.driver import Delivery, Rejection
from fermwatch.errors import ConfigError
from fermwatch.model.quantity import Unit
from fermwatch_drivers.hearing import MOST_TAUGHT, Heard
from fermwatch_drivers.serial_line.formats import reader_for
from fermwatch_drivers.serial_line.options import Format, SerialLineOptions

NOW = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


def options(form: str, **more: object) -> SerialLineOptions:
    return SerialLineOptions.model_validate({"port": "/dev/null", "format": form, **more})


def hear(form: str, line: str | bytes, channels: list[str], **more: object) -> Delivery:
    heard = Heard()
    reader = reader_for("board", options(form, **more), channels)
    reader.read(line if isinstance(line, bytes) else line.encode(), NOW, heard)
    return heard.delivery()


def values(delivery: Delivery) -> dict[str, tuple[float, Unit | None]]:
    return {reading.channel: (reading.value, reading.unit) for reading in delivery.readings}


def test_json_by_key_and_by_pointer() -> None:
    said = hear("json", '{"g": "1.048 SG", "probes": [{"temp": 19.5}]}', ["g", "/probes/0/temp"])
    assert values(said) == {"g": (1.048, Unit.SG), "/probes/0/temp": (19.5, None)}
    assert said.rejections == ()


@pytest.mark.parametrize(
    "line",
    ["t1=19.4 g=1.048", "t1=19.4,g=1.048", "t1=19.4; g=1.048", "t1 = 19.4\tg =1.048", "t1=19.4;;g=1.048;"],
)
def test_pairs_with_every_separator(line: str) -> None:
    assert values(hear("pairs", line, ["t1", "g"])) == {"t1": (19.4, None), "g": (1.048, None)}


def test_pairs_with_units_that_stand_apart() -> None:
    said = hear("pairs", "t1=66.2 F g=1.048 SG", ["t1", "g"])
    assert values(said) == {"t1": (66.2, Unit.FAHRENHEIT), "g": (1.048, Unit.SG)}


@pytest.mark.parametrize(("delimiter", "line"), [(",", "7,19.4,,1.048"), ("\t", "7\t19.4\t\t1.048")])
def test_columns_are_counted_from_one_and_empty_ones_say_nothing(delimiter: str, line: str) -> None:
    said = hear("columns", line, ["2", "3", "4"], delimiter=delimiter, sequence_field="1")
    assert values(said) == {"2": (19.4, None), "4": (1.048, None)}
    assert {reading.sequence for reading in said.readings} == {7}


def test_columns_between_runs_of_blanks() -> None:
    assert values(hear("columns", "  19.4   1.048 ", ["1", "2"], delimiter=" ")) == {
        "1": (19.4, None),
        "2": (1.048, None),
    }


def test_a_bare_number() -> None:
    assert values(hear("number", "19.4 C", ["value"])) == {"value": (19.4, Unit.CELSIUS)}


def test_the_boards_own_time_and_number_go_with_every_reading() -> None:
    line = '{"t": 19.5, "meta": {"at": "2026-03-01T11:59:00Z", "n": 17}}'
    (reading,) = hear("json", line, ["t"], time_field="/meta/at", sequence_field="/meta/n").readings
    assert reading.measured_at == datetime(2026, 3, 1, 11, 59, tzinfo=UTC)
    assert reading.sequence == 17


def test_an_unreadable_time_is_counted_and_the_reading_kept() -> None:
    said = hear("pairs", "t=19.5 at=4711", ["t"], time_field="at")
    assert values(said) == {"t": (19.5, None)}
    assert said.readings[0].measured_at is None
    assert [rejection.channel for rejection in said.rejections] == ["at"]


def test_a_bound_channel_that_says_no_number_is_rejected_by_name() -> None:
    said = hear("pairs", "t=nan g=1.048", ["t", "g"])
    assert values(said) == {"g": (1.048, None)}
    assert said.rejections == (Rejection("not a number", "t=nan g=1.048", "t"),)


def test_an_unbound_channel_teaches_its_name_once_and_is_never_a_rejection() -> None:
    reader, heard = reader_for("board", options("pairs"), ["t"]), Heard()
    for _ in range(3):
        reader.read(b"t=19 room=21 id=abc", NOW, heard)
    assert [reading.channel for reading in heard.readings] == ["t", "room", "t", "t"]
    assert heard.delivery().rejections == ()


def test_a_device_that_invents_names_teaches_only_some() -> None:
    reader, heard = reader_for("board", options("pairs"), ["t"]), Heard()
    for number in range(1000):
        reader.read(f"n{number}=1 t=19".encode(), NOW, heard)
    assert len({reading.channel for reading in heard.readings}) == MOST_TAUGHT + 1
    assert sum(reading.channel == "t" for reading in heard.readings) == 1000


@pytest.mark.parametrize("name", ["[/]", "[@click]x[/]", "\x1b[31mred", "\u202eabc", "\x9b2J"])
def test_a_hostile_name_comes_out_harmless_and_can_be_bound(name: str) -> None:
    line = f"{name}=19.5"
    (reading,) = hear("pairs", line, []).readings
    assert not set(reading.channel) & {"\x1b", "\u202e", "\x9b"}
    assert values(hear("pairs", line, [reading.channel])) == {reading.channel: (19.5, None)}


@pytest.mark.parametrize("name", ["\\ud800", "\\u001b[2J", "\\u0000"])
def test_a_hostile_key_comes_out_harmless(name: str) -> None:
    (reading,) = hear("json", f'{{"{name}": 3}}', []).readings
    assert reading.channel.isprintable()


@pytest.mark.parametrize(
    ("form", "line"),
    [
        ("json", "[1, 2]"),
        ("json", '{"t": NaN}'),
        ("json", "{"),
        ("pairs", "hello"),
        ("pairs", "=3"),
        ("pairs", "t"),
        ("number", "hello"),
        ("number", b"\xff\xfe"),
        ("json", b"\xff{}"),
        ("pairs", "x t=1"),
    ],
)
def test_a_damaged_line_is_one_rejection(form: str, line: str | bytes) -> None:
    said = hear(form, line, ["value"] if form == "number" else ["t"])
    assert said.readings == ()
    assert len(said.rejections) == 1


def test_equal_rejections_are_counted_not_collected() -> None:
    reader, heard = reader_for("board", options("number"), ["value"]), Heard()
    for number in range(10_000):
        reader.read(f"garbage {number}".encode(), NOW, heard)
    assert heard.delivery().rejections == (Rejection("not a number", "garbage 0", "value", 10_000),)


@pytest.mark.parametrize(
    ("form", "channel"),
    [
        ("columns", "0"),
        ("columns", "t"),
        ("columns", "01"),
        ("columns", "٣"),
        ("number", "t"),
        ("pairs", "a b"),
        ("pairs", "a=b"),
        ("pairs", ""),
        ("json", "/a~2"),
        ("json", ""),
    ],
)
def test_a_channel_that_cannot_be_meant_is_a_configuration_error(form: str, channel: str) -> None:
    with pytest.raises(ConfigError, match="board") as caught:
        reader_for("board", options(form), [channel])
    assert caught.value.hint


def test_a_bare_number_has_no_other_fields() -> None:
    with pytest.raises(ValueError, match="columns"):
        options("number", time_field="1")


@given(st.sampled_from(list(Format)), st.binary(max_size=512))
def test_no_line_raises_anything(form: Format, line: bytes) -> None:
    channels = {"json": ["t", "/a/0"], "pairs": ["t"], "columns": ["1", "2"], "number": ["value"]}
    said = hear(form, line, channels[form])
    assert all(rejection.count >= 1 for rejection in said.rejections)


_ALMOST_JSON = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=5)).map(str),
    lambda inner: st.lists(inner, max_size=3).map(lambda parts: '{"t":' + ",".join(parts) + "}"),
    max_leaves=8,
)


@given(_ALMOST_JSON)
def test_no_almost_json_raises_anything(line: str) -> None:
    hear("json", line, ["t"])
