"""From registers to what a controller shows: against the packing that Python's struct does, and sentinels apart."""

import math
import struct
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.contracts.controller import Seen
from fermwatch.model.degree import Output
from fermwatch_drivers.hearing import Heard
from fermwatch_drivers.modbus.frames import MOST_REGISTERS, Function, Read
from fermwatch_drivers.modbus.picture import joined, questions_of, shown
from fermwatch_drivers.modbus.register_map import RegisterMap, parse, shipped_map

AT = datetime(2026, 3, 1, tzinfo=UTC)
EXAMPLE = shipped_map("worked-example")
FORMATS = {"int16": ">h", "uint16": ">H", "int32": ">i", "uint32": ">I", "float32": ">f"}


def kind(*, more: str = "", unit: str = "°C", order: str = "high-first") -> RegisterMap:
    head = f'title = "x"\nunit = "{unit}"\nword_order = "{order}"\n'
    return parse(
        f'{head}[measured]\nfunction = "holding"\naddress = 7\nlow = -1e9\nhigh = 1e9\n{more}\n', Path("x.toml")
    )


def words(function: Function, address: int, *values: int) -> dict[tuple[Function, int], int]:
    return {(function, address + at): value for at, value in enumerate(values)}


@given(st.sampled_from(list(FORMATS)), st.booleans(), st.data())
def test_each_type_in_each_order_means_what_was_packed(of_type: str, low_first: bool, data: st.DataObject) -> None:
    packed = data.draw(
        st.binary(min_size=struct.calcsize(FORMATS[of_type]), max_size=struct.calcsize(FORMATS[of_type]))
    )
    (meant,) = struct.unpack(FORMATS[of_type], packed)
    registers = [int.from_bytes(packed[at : at + 2], "big") for at in range(0, len(packed), 2)]
    order = "low-first" if low_first else "high-first"
    heard = Heard()
    seen = shown(
        kind(more=f'type = "{of_type}"', order=order),
        words(Function.HOLDING, 7, *(reversed(registers) if low_first else registers)),
        AT,
        heard,
    )
    if math.isfinite(meant) and abs(meant) <= 1e9:
        assert seen.measured_c == pytest.approx(meant, abs=1e-6)
        assert not heard
    else:
        assert seen.measured_c is None
        assert heard.delivery().rejections[0].channel == "measured"


def example(measured: int = 185, set_point: int = 180, outputs: int = 0, alarms: tuple[int, int] = (0, 0)) -> Seen:
    said = words(Function.INPUT, 0, 2611, measured & 0xFFFF, outputs) | words(Function.HOLDING, 10, set_point & 0xFFFF)
    return shown(EXAMPLE, said | words(Function.DISCRETE, 0, *alarms), AT, Heard())


def test_the_shipped_example_shows_all_that_it_has() -> None:
    assert example() == Seen(AT, 18.5, 18.0, frozenset())
    assert example(measured=-5, set_point=-10) == Seen(AT, -0.5, -1.0, frozenset()), "the sign is the register's"
    assert example(outputs=1).on == frozenset({Output.COOL})
    assert example(outputs=2).on == frozenset({Output.HEAT})
    assert example(outputs=0xFFFC).on == frozenset(), "other bits of the register are others' business"
    assert example(alarms=(1, 0)).alarms == {"probe-broken"}
    assert example(alarms=(0, 1)).alarms == {"door-open"}


@pytest.mark.parametrize(
    ("measured", "why"),
    [(32767, "its probe is broken"), (-32768, "its probe is broken"), (1101, "outside -40 to 110"), (-401, "outside")],
)
def test_what_was_not_measured_is_rejected_and_never_a_value(measured: int, why: str) -> None:
    heard = Heard()
    said = words(Function.INPUT, 0, 2611, measured & 0xFFFF, 0) | words(Function.HOLDING, 10, 180)
    seen = shown(EXAMPLE, said, AT, heard)
    assert seen.measured_c is None
    assert seen.set_point_c == 18.0
    (rejection,) = heard.delivery().rejections
    assert (rejection.channel, rejection.sample) == ("measured", str(measured))
    assert why in rejection.reason


def test_a_sentinel_is_what_is_written_and_not_what_it_means() -> None:
    with_sentinel = kind(more="scale = 0.5\nbroken = [37]")
    for number, meant in ((37, None), (74, 37.0)):
        assert shown(with_sentinel, words(Function.HOLDING, 7, number), AT, Heard()).measured_c == meant


def test_fahrenheit_is_converted_once() -> None:
    """32 °F is 0 °C and 68 °F is 20 °C, by definition."""
    for number, celsius in ((320, 0.0), (680, 20.0), (500, 10.0)):
        seen = shown(kind(more="scale = 0.1", unit="°F"), words(Function.HOLDING, 7, number), AT, Heard())
        assert seen.measured_c == celsius


def test_what_was_not_read_is_not_known() -> None:
    assert shown(EXAMPLE, {}, AT, Heard()) == Seen(AT)
    half = shown(kind(more='type = "float32"'), words(Function.HOLDING, 7, 0), AT, Heard())
    assert half.measured_c is None


def test_what_follows_each_other_is_asked_at_once_and_no_gap_is_read() -> None:
    assert questions_of(EXAMPLE) == (
        Read(Function.DISCRETE, 0, 3),
        Read(Function.HOLDING, 10, 1),
        Read(Function.INPUT, 1, 2),
    )


READS = st.lists(
    st.builds(Read, st.sampled_from(Function), st.integers(0, 400), st.integers(1, 2)), min_size=1, max_size=60
)


@given(READS)
def test_joined_questions_read_just_what_was_wanted(reads: list[Read]) -> None:
    def spots(some: list[Read]) -> set[tuple[Function, int]]:
        return {(one.function, one.address + at) for one in some for at in range(one.count)}

    together = list(joined(reads))
    assert spots(together) == spots(reads)
    assert len(together) <= len(reads)
    for one in reads:
        whole = spots([one])
        assert any(whole <= spots([asked]) for asked in together), "a number of two registers comes in one answer"
    assert all(one.function.is_bits or one.count <= MOST_REGISTERS for one in together)
