"""The kept shape of a row is apart from the noun: it changes only where somebody says so."""

import json
import os
import types
import typing
from dataclasses import MISSING, dataclass, fields, is_dataclass
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

import pytest

from fermwatch.contracts.store import ControllerStatus, SourceState, SourceStatus, WatcherStatus
from fermwatch.errors import UnreadableRow
from fermwatch.model.degree import Degree, Output
from fermwatch.model.finding import Alarm, Condition, Evidence, Phase, Severity, VerdictKind
from fermwatch.model.judgement import Forecast, Judgement, PhaseStatement, Trend, Verdict
from fermwatch.model.telling import NotifierStatus, Told, Why
from fermwatch.store.rows import SHAPES, Shape
from tests.support.samples import NOW, PROBES, VESSELS, batch, event, measurement

RECORDED = Path(__file__).parent / "recorded"
RECORD = "FERMWATCH_RECORD" in os.environ
HOW = (
    "Read the head of fermwatch/store/rows.py: what does an older program do with such a row? Then FERMWATCH_RECORD=1."
)
each_shape = pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)


def described(hint: object) -> Any:  # noqa: ANN401 - JSON
    """A type as JSON: what may stand in a kept row."""
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin is typing.Annotated:
        return described(arguments[0])
    if origin in {typing.Union, types.UnionType}:
        return {"one of": [described(one) for one in arguments]}
    if origin is not None:
        return {origin.__name__: [described(one) for one in arguments]}
    if is_dataclass(hint):
        hints = typing.get_type_hints(hint, include_extras=True)
        return {
            one.name + ("" if one.default is one.default_factory is MISSING else "?"): described(hints[one.name])
            for one in fields(hint)
        }
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        return sorted(hint)
    return "..." if hint is Ellipsis else getattr(hint, "__name__", str(hint))


@each_shape
def test_no_shape_changes_unnoticed(shape: Shape[Any]) -> None:
    file = RECORDED / f"{shape.name.replace(' ', '-')}.{shape.version}.shape.json"
    now = json.dumps({"stored_as": dict(shape.stored_as), **described(shape.noun)}, indent=1) + "\n"
    if RECORD:
        file.write_text(now, encoding="utf-8")
    assert file.read_text(encoding="utf-8") == now, HOW


EVIDENCE = (Evidence("gravity steady", met=False, statement="falls 0.4 a day", remedy="wait"),)
SAMPLES: dict[str, object] = {
    "fermenter": VESSELS[0],
    "probe": PROBES[0],
    "batch": batch(),
    "measurement": measurement(),
    "event": event(),
    "judgement": Judgement(
        NOW,
        Trend(NOW, 1.02, 0.4, -3.0, 0.2, 0.6),
        PhaseStatement(Phase.SLOWING, NOW, "because", EVIDENCE),
        Forecast(NOW, 1.011, 1.009, 1.013, NOW, NOW, None, ("sugar was added",)),
        Verdict(VerdictKind.NOT_YET, NOW, ("still falling",), EVIDENCE, NOW, "a second reading"),
    ),
    "alarm": Alarm("temperature-high", "vessel:left", Condition.RAISED, since=NOW, raised_at=NOW, occurrence=2),
    "source": SourceStatus("board", "serial-line", SourceState.CONNECTED, "115200 baud", NOW),
    "controller": ControllerStatus("fridge", "left", Degree.SET, 18.0, 17.5, (Output.COOL,), NOW, ("door",), "why"),
    "notifier": NotifierStatus("phone", "command", NOW, NOW, NOW, NOW, "no answer", 2),
    "word of a notifier": Told("phone", "stalled", "batch:b", 2, Severity.WARNING, Why.AGAIN, NOW, 3, "abc"),
    "sign of life": WatcherStatus("0.1", 42, NOW, NOW, NOW),
}


@each_shape
def test_every_row_that_was_ever_written_reads_as_what_it_was(shape: Shape[Any]) -> None:
    file = RECORDED / f"{shape.name.replace(' ', '-')}.{shape.version}.row.json"
    if RECORD:
        file.write_text(shape.row(SAMPLES[shape.name]) + "\n", encoding="utf-8")
    recorded = sorted(RECORDED.glob(f"{shape.name.replace(' ', '-')}.*.row.json"))
    assert len(recorded) == shape.version
    for each in recorded:
        assert shape.read(each.read_text(encoding="utf-8")) == SAMPLES[shape.name], HOW


class Sparkle(StrEnum):
    STILL = "still"
    LIVELY = "lively"


@dataclass(frozen=True, slots=True)
class Water:
    """A made-up noun, as it is now: `volume_l` was once `litres`, and before that `gallons`."""

    id: str
    volume_l: float
    sparkle: Sparkle = Sparkle.STILL
    drawn_at: datetime | None = None


def in_litres(plain: dict[str, Any]) -> dict[str, Any]:
    return {**plain, "litres": plain.pop("gallons") * 3.785411784}


NOW_KEPT = Shape(Water, "water", stored_as={"volume_l": "litres"}, upgrades=(in_litres,))
BEFORE = Shape(Water, "water", stored_as={"volume_l": "gallons"})


def test_a_renamed_field_goes_on_under_its_key_so_that_an_older_program_reads_it() -> None:
    water = Water("W1", 19.0, Sparkle.LIVELY, datetime(2026, 3, 1, 18, tzinfo=UTC))
    assert json.loads(NOW_KEPT.row(water)) == {
        "row": 2,
        "id": "W1",
        "litres": 19.0,
        "sparkle": "lively",
        "drawn_at": "2026-03-01T18:00:00+00:00",
    }
    assert NOW_KEPT.read(NOW_KEPT.row(water)) == water


@pytest.mark.parametrize("text", ['{"row":1,"id":"W1","gallons":2}', '{"id":"W1","gallons":2}'])
def test_an_older_row_is_brought_to_the_shape_of_today(text: str) -> None:
    assert NOW_KEPT.read(text) == Water("W1", 2 * 3.785411784)


def test_an_older_program_says_of_a_newer_row_that_it_is_one() -> None:
    with pytest.raises(UnreadableRow, match=r"The water W1 was written by a newer version of fermwatch .*Update this"):
        BEFORE.read(NOW_KEPT.row(Water("W1", 19.0)))
    with pytest.raises(UnreadableRow) as caught:
        NOW_KEPT.read('{"row":2,"id":"W1","litres":19,"sparkle":"foaming"}')
    assert caught.value.newer
    assert "sparkle: expected one of still, lively, got 'foaming'" in caught.value.why


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "{",
        "[" * 100_000,
        '{"row":"2"}',
        '{"row":0}',
        '{"row":true,"id":1}',
        '{"id":"W1"}',
        '{"row":2,"id":"W1","litres":1e999}',
    ],
)
def test_what_is_damaged_is_said_to_be_and_stops_nobody(text: str) -> None:
    with pytest.raises(UnreadableRow, match=r"water.*cannot be read") as caught:
        NOW_KEPT.read(text)
    assert not caught.value.newer
