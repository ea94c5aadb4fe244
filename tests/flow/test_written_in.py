"""What a form says is read, doubted and carried out as the text command that a person may type instead."""

import argparse
import os
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import pytest

from fermwatch.commands.context import Context
from fermwatch.commands.written_in import COMMANDS, options_of, prepare
from fermwatch.config.instruments import OwnInstrument, keep
from fermwatch.dashboard.forms.table import FORMS, form_of
from fermwatch.desk.asking import request
from fermwatch.desk.prepared import Prepared
from fermwatch.errors import FermwatchError, InputError
from fermwatch.inbox.sending import may_put, put
from fermwatch.model.batch import Batch, Event, GravityMeasurement, Instrument
from fermwatch.requests.shapes import Measuring
from fermwatch.saying.voice import CANONICAL, US, Units
from tests.support.command_line import CommandLine, command_line

NOW = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)


class Same(NamedTuple):
    """A form's fields, and the words of the command that says the same."""

    form: str
    values: dict[str, str]
    words: tuple[str, ...]


SAME = {
    "measure": Same(
        "measure",
        {"reading": "1.020", "sample": "23C", "degassed": "yes", "at": "yesterday 20:00"},
        ("measure", "left", "hydrometer", "1.020", "--sample", "23C", "--degassed", "--at", "yesterday 20:00"),
    ),
    "refractometer": Same(
        "measure",
        {"instrument": "refractometer", "reading": "6.2Bx", "original_brix": "12.9"},
        ("measure", "left", "refractometer", "6.2Bx", "--original-brix", "12.9"),
    ),
    "taste": Same("note", {"what": "taste", "text": "ripe --pear, [b]"}, ("note", "left", "taste", "ripe --pear, [b]")),
    "warm sample": Same(
        "note", {"what": "warm-sample test", "passed": "no"}, ("note", "left", "diacetyl-test", "--passed")
    ),
    "hops": Same("add", {"what": "hops", "grams": "60"}, ("add", "left", "dry-hop", "--grams", "60")),
    "rest": Same(
        "declare", {"target": "20C", "until": "3d"}, ("note", "left", "rest", "--target", "20C", "--until", "3d")
    ),
    "pitch": Same(
        "open",
        {"name": "Oat Stout", "vessel": "right", "og": "1.061", "yeast": "clean ale", "volume": "20L"},
        (
            *("batch", "open", "Oat Stout", "--vessel", "right", "--og", "1.061", "--yeast", "clean-ale"),
            *("--volume", "20L", "--og-by", "hydrometer", "--origin", "measured"),
        ),
    ),
    "package": Same(
        "package",
        {"package": "returnable glass bottle", "volumes": "2.4", "volume": "17L", "bottles": "34", "warmest": "20C"},
        (
            *("batch", "package", "left", "--package", "returnable-glass", "--volumes", "2.4", "--volume", "17L"),
            *("--warmest", "20C", "--bottles", "34", "--sugar", "sucrose", "--although-not-safe"),
        ),
    ),
}


def brewery(directory: Path, capsys: pytest.CaptureFixture[str]) -> CommandLine:
    desk = command_line(directory, NOW, capsys)
    desk.done(
        *("batch", "open", "Harvest Ale", "--vessel", "left", "--og", "1.052", "--yeast", "clean-ale", "--yes"),
        *("--pitched-at", "2026-02-22 18:00", "--volume", "18L"),
    )
    return desk


def said_in(desk: CommandLine, form: str, values: dict[str, str], units: Units = CANONICAL, **fixed: str) -> Prepared:
    kind = FORMS[form]
    context = Context(None, desk.directory, "home", dict(os.environ), desk.clock)
    named = {} if form in {"open", "void"} else {"batch": batches(desk)[0].id}
    return prepare(context, kind.command, {**kind.said(kind.started(values)), **named, **fixed}, units)


def batches(desk: CommandLine) -> tuple[Batch, ...]:
    with desk.reader() as reader:
        return reader.batches()


def kept(desk: CommandLine) -> list[Batch | Event | GravityMeasurement]:
    """All that is stored, but for the identities."""
    with desk.reader() as reader:
        rows: list[Batch | Event | GravityMeasurement] = []
        for batch in reader.batches():
            rows.append(replace(batch, id=""))
            rows += [replace(one, id="") for one in reader.measurements(batch.id)]
            rows += [replace(one, id="") for one in reader.events(batch.id)]
        return rows


@pytest.mark.parametrize("same", SAME.values(), ids=SAME)
def test_a_form_stores_what_its_command_stores(same: Same, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    by_form, by_command = (brewery(tmp_path / name, capsys) for name in ("form", "command"))
    ready = said_in(by_form, same.form, same.values)
    put(by_form.directory, request(ready.asked, site="home", user="anna", now=NOW))
    assert [outcome.state for outcome in by_form.attend()] == ["done"]
    by_command.done(*same.words, "--yes", *(["--even-so"] if ready.doubts else []))
    assert kept(by_form) == kept(by_command)
    assert len(kept(by_form)) > 1


def test_a_reading_by_an_own_instrument_is_corrected_by_what_is_kept_of_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "own"))
    keep(OwnInstrument("narrow", Instrument.HYDROMETER, water_check="1.002"), os.environ)
    desk = brewery(tmp_path / "store", capsys)
    form = form_of("measure", {"narrow": "hydrometer"})
    context = Context(None, desk.directory, "home", dict(os.environ), desk.clock)
    values = form.started({"reading": "1.020", "sample": "20C", "degassed": "yes"})
    ready = prepare(context, "measure", {**form.said(values), "batch": batches(desk)[0].id}, CANONICAL)
    assert isinstance(ready.asked, Measuring)
    assert ready.asked.measurement.gravity_sg == pytest.approx(1.018, abs=1e-6)
    assert ready.asked.measurement.instrument is Instrument.HYDROMETER


def test_a_form_doubts_and_refuses_what_its_command_does(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    desk = brewery(tmp_path / "store", capsys)
    ready = said_in(desk, "measure", {"reading": "1.070"})
    refused = desk.type("measure", "left", "hydrometer", "1.070", "--yes")
    assert ready.doubts
    assert refused.status != 0
    assert all(text.split(":")[0] in " ".join(refused.text.split()) for text in ready.minded)
    for form, values in (("measure", {"reading": "1070"}), ("add", {"what": "hops"}), ("open", {"name": "X"})):
        with pytest.raises(InputError):
            said_in(desk, form, values)


def test_what_was_not_said_is_asked_for(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An empty form said that the test was passed, and that the bottle was calm."""
    desk = brewery(tmp_path / "store", capsys)
    with pytest.raises(InputError, match="How did it come out"):
        said_in(desk, "note", {"what": "warm-sample test"})
    with pytest.raises(InputError, match="How was it"):
        said_in(desk, "in-package", {})


@pytest.mark.parametrize("command", COMMANDS)
def test_a_form_begins_with_what_the_command_does(command: str) -> None:
    """Nothing said is the same nothing."""
    parser = argparse.ArgumentParser(add_help=False)
    COMMANDS[command].arguments(parser)
    needed = ["x" for one in parser._actions if not one.option_strings and one.nargs is None]
    typed = vars(parser.parse_args(needed))
    known = options_of(command)
    assert {name: known[name] for name in typed if typed[name] != "x"} == {
        name: value for name, value in typed.items() if value != "x"
    }


def test_bare_numbers_are_in_the_readers_units(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    desk = brewery(tmp_path / "store", capsys)
    ready = said_in(desk, "measure", {"reading": "1.020", "sample": "73"}, US)
    assert "at 73.0 °F" in " ".join(text for _, text in ready.rows)


def test_what_is_taken_back_says_what_follows(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    desk = brewery(tmp_path / "store", capsys)
    desk.done("measure", "left", "hydrometer", "1.020", "--degassed", "--yes")
    with desk.reader() as reader:
        (one,) = reader.measurements(batches(desk)[0].id)
    ready = said_in(desk, "void", {}, identity=one.id)
    assert ready.question == "Void it? It stays in the history, and is judged on no longer."
    assert ready.minded == ("Gravity, forecast and the verdict are judged anew without it.",)
    put(desk.directory, request(ready.asked, site="home", user="anna", now=NOW))
    assert [outcome.state for outcome in desk.attend()] == ["done"]
    with pytest.raises(FermwatchError, match="already voided"):
        said_in(desk, "void", {}, identity=one.id)


def test_who_may_not_write_the_inbox_is_known_before(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = brewery(tmp_path / "store", capsys)
    assert may_put(desk.directory, "home")
    monkeypatch.setattr(os, "access", lambda _path, mode: not mode & os.W_OK)
    assert not may_put(desk.directory, "home")
    assert may_put(desk.directory, "elsewhere"), "where there is no inbox, asking tells so"
