"""`--json`, for programs: one format in every command, as docs/programs.md describes it."""

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from operator import itemgetter
from pathlib import Path
from typing import Any

import pytest

from fermwatch.contracts.store import ControllerStatus
from fermwatch.model.degree import Degree, Output
from fermwatch.model.finding import Alarm, Condition, Severity
from fermwatch.model.telling import NotifierStatus, Told, Why
from fermwatch.saying.for_programs import SCHEMA
from tests.support.command_line import CommandLine, command_line
from tests.support.stores import open_writer

NOW = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
HOT = Alarm("temperature-high", "vessel:left", Condition.RAISED, Severity.WARNING, NOW, raised_at=NOW, occurrence=1)
OUT = replace(HOT, rule="cycling", out_of_service=True, out_of_service_since=NOW, out_of_service_by="ben")
PAGE = Path(__file__).parents[2] / "docs" / "programs.md"
KIND = ("--package", "soda-pet", "--volumes", "2.4")
PACKAGE = (*KIND, "--warmest", "20C")
COMMANDS = [
    ("status",),
    ("alarms",),
    ("bottle", "left"),
    ("bottle", "right"),
    ("batch", "show", "left"),
    ("batch", "show", "right"),
    ("batch", "list"),
    ("batch", "yeasts"),
    ("plan", "show", "left"),
    ("notify", "show"),
    ("health",),
    ("measure", "list", "left"),
    ("note", "list", "left"),
    ("calc", "alcohol", "1.052", "1.010"),
]


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    """A beer ferments in one fermenter, another is packaged; something was measured, noted and raised of each."""
    monkeypatch.setenv("COLUMNS", "100")
    desk = command_line(tmp_path / "store", NOW - timedelta(days=20), capsys)
    for vessel in ("left", "right"):
        wort = ("--og", "1.052", "--yeast", "clean-ale", *KIND)
        desk.done("batch", "open", f"Ale {vessel}", "--vessel", vessel, *wort, "--yes")
    desk.clock.advance(20 * 86400)
    desk.hear_steady("left-beer", 19.0, hours=30)
    for vessel in ("left", "right"):
        desk.done("measure", vessel, "hydrometer", "1.012", "--sample", "20C", "--degassed", "--yes")
        desk.done("note", vessel, "smell", "of pears", "--yes")
    desk.done("note", "left", "rest", "--target", "19C", "--yes")
    desk.done("plan", "use", "left")
    desk.done("batch", "package", "right", *PACKAGE, "--yes", "--although-not-safe")
    with open_writer(desk.directory, "home", desk.clock.now()) as writer:
        writer.save_alarms([HOT, OUT], [])
    with desk.watched():
        pass
    with open_writer(desk.directory, "home", desk.clock.now()) as writer:
        writer.set_controller(
            ControllerStatus("fridge", "left", Degree.SET, 18.0, 18.0, (Output.COOL,), NOW, ("door",))
        )
        hot = Told("phone", HOT.rule, HOT.subject, 1, Severity.WARNING, Why.BEGAN, NOW)
        writer.set_notifier(NotifierStatus("phone", "command", NOW, NOW), [hot])
    return desk


def told(desk: CommandLine, *words: str) -> Any:  # noqa: ANN401 - JSON
    said = desk.type(*words, "--json")
    assert said.status in {0, 1}, said.error
    return json.loads(said.text)


def objects(data: object, name: str) -> Iterator[dict[str, Any]]:
    """Every object that stands under a key, or in a list under its plural."""
    if isinstance(data, list):
        for one in data:
            yield from objects(one, name)
    elif isinstance(data, dict):
        for key, value in data.items():
            if key == name and isinstance(value, dict):
                yield value
            elif key in PLURALS.get(name, ()) and isinstance(value, list):
                yield from (one for one in value if isinstance(one, dict))
            yield from objects(value, name)


PLURALS = {
    "alarm": ("alarms",),
    "batch": ("batches",),
    "measurement": ("measurements",),
    "event": ("events",),
    "source": ("sources",),
    "regulator": ("regulators",),
    "fermenter": ("fermenters",),
    "probe": ("probes", "stores"),
    "yeast": ("yeasts",),
    "evidence": ("evidence",),
    "conditioning": ("conditioning",),
    "misread": ("misread",),
    "plan_step": ("steps",),
    "notifier": ("notifiers",),
    "trouble": ("troubles",),
    "told": ("told",),
}


def table(header: str) -> dict[str, set[str]]:
    """A table of docs/programs.md: what its rows are about, and the keys of each."""
    body = PAGE.read_text(encoding="utf-8").partition(f"| {header} |")[2].partition("\n\n")[0]
    rows = re.findall(r"^\| `([\w ]+)` \| (`.*`) \|$", body, re.MULTILINE)
    return {name: set(re.findall(r"`(\w+)`", keys)) for name, keys in rows}


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_every_command_says_one_object_with_its_schema(desk: CommandLine, words: tuple[str, ...]) -> None:
    document = told(desk, *words)
    assert isinstance(document, dict)
    assert next(iter(document)) == "schema"
    assert document["schema"] == SCHEMA


def test_an_object_is_the_same_in_every_command_and_as_it_is_described(desk: CommandLine) -> None:
    described, seen = table("object | keys"), set()
    assert len(described) > 10
    for words in COMMANDS:
        document = told(desk, *words)
        for name, keys in described.items():
            for found in objects(document, name):
                value_of_a_probe = {key for key in found if name == "probe" and key.startswith("value_")}
                assert set(found) - value_of_a_probe == keys - {"value_c"}, (words, name)
                seen.add(name)
    never_here = {
        "source",
        "misread",
        "controller",
        "channel",
        "news",
        "check",
    }  # nobody reads a source here, and all can be read: tests/flow/test_newer_rows.py
    assert seen == described.keys() - never_here


def test_every_command_says_what_it_is_described_to_say(desk: CommandLine) -> None:
    described = table("command | what stands beside `schema`")
    assert len(described) > 3
    del described["listen"]  # of wires, which are not here: tests/flow/test_listen.py
    del described["check"]  # of a configuration too: tests/flow/test_check.py
    del described["controller show"]  # of a configuration, which is not here: tests/flow/test_controller_set.py
    for command, keys in described.items():
        words = next(words for words in COMMANDS if " ".join(words).startswith(command))
        assert set(told(desk, *words)) == keys | {"schema"}, command


def test_every_instant_is_utc_and_every_number_has_few_digits(desk: CommandLine) -> None:
    for words in COMMANDS:
        text = desk.type(*words, "--json").text
        assert "+00:00" not in text, words
        assert not re.search(r"\d\.\d{7}", text), words


def test_the_fermenting_batch_and_its_judgement_are_the_same_wherever_they_are_said(desk: CommandLine) -> None:
    batch = told(desk, "batch", "show", "left")
    (lane,) = [one for one in told(desk, "status")["fermenters"] if one["vessel"] == "left"]
    assert lane["batch"] == batch["batch"] == told(desk, "bottle", "left")["batch"]
    assert lane["judgement"] == batch["judgement"]
    assert lane["judgement"]["verdict"]["verdict"] == told(desk, "bottle", "left")["judgement"]["verdict"]["verdict"]
    listed, shown = (sorted(told(desk, word)["alarms"], key=itemgetter("rule")) for word in ("alarms", "status"))
    assert listed == shown


def test_what_cannot_be_read_is_part_of_the_document_and_breaks_no_parser(desk: CommandLine) -> None:
    """It was printed after the JSON, as a sentence."""
    import sqlite3

    with sqlite3.connect(desk.directory / "home.db") as store:
        row = "INSERT INTO event SELECT site, 'E-ODD', id, 0, 0, '', '{\"id\":\"E-ODD\"}' FROM batch"
        store.execute(f"{row} WHERE vessel = 'left'")
    store.close()
    (odd,) = told(desk, "note", "list", "left")["misread"]
    assert (odd["what"], odd["identity"], odd["newer_version"]) == ("event", "E-ODD", False)


def test_who_was_told_of_an_alarm_stands_beside_it(desk: CommandLine) -> None:
    found = {one["rule"]: one for one in told(desk, "alarms")["alarms"]}
    hot, out = found["temperature-high"], found["cycling"]
    assert [(one["notifier"], one["why"]) for one in hot["told"]] == [("phone", "began")]
    assert (out["told"], out["out_of_service_by"]) == ([], "ben")
    assert "told: phone " in " ".join(desk.type("alarms").text.split())
