"""A program that is older than the watcher: what it cannot read it tells, and everything else it shows as ever."""

import json
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fermwatch.model.finding import Alarm, Condition, Severity
from tests.support.command_line import CommandLine, command_line
from tests.support.stores import open_writer

NOW = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
HOT = Alarm("temperature-high", "vessel:left", Condition.RAISED, Severity.WARNING, NOW, raised_at=NOW, occurrence=1)
OF_TOMORROW = json.dumps({"rule": "foam-high", "subject": "vessel:left", "severity": "deafening"})


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    """A batch is open, an alarm stands, and a newer watcher has raised one that is unheard of here."""
    monkeypatch.setenv("COLUMNS", "100")
    desk = command_line(tmp_path / "store", NOW, capsys)
    desk.done("batch", "open", "Harvest Ale", "--vessel", "left", "--og", "1.052", "--yeast", "clean-ale", "--yes")
    with open_writer(desk.directory, "home", NOW) as writer:
        writer.save_alarms([HOT], [])
    with closing(sqlite3.connect(desk.directory / "home.db", isolation_level=None)) as newer:
        newer.execute("INSERT INTO alarm VALUES ('home', 'foam-high', 'vessel:left', ?)", (OF_TOMORROW,))
    return desk


def test_the_status_says_what_it_passes_over_and_shows_the_rest(desk: CommandLine) -> None:
    said = desk.type("status")
    assert said.status == 0, said.error
    told = " ".join(said.text.split())
    assert "The alarm foam-high vessel:left is of a newer version of fermwatch, and is passed over: severity" in told
    assert "Harvest Ale" in told
    plain = json.loads(desk.type("status", "--json").text)
    assert [alarm["rule"] for alarm in plain["alarms"]] == ["temperature-high"]
    (row,) = plain["misread"]
    assert (row["what"], row["identity"], row["newer_version"]) == ("alarm", "foam-high vessel:left", True)


def test_all_is_never_well_where_something_cannot_be_read(desk: CommandLine) -> None:
    with desk.watched():
        assert "a newer version: update this fermwatch" in desk.type("status").text.splitlines()[0]
        assert desk.type("status", "--exit-status").status == 1


def test_an_older_watcher_decides_upon_it_anew_and_goes_on(desk: CommandLine, caplog: pytest.LogCaptureFixture) -> None:
    with desk.watched():
        assert "the alarm foam-high vessel:left is of a newer version" in caplog.text
        with desk.reader() as reader:
            assert reader.alarms()
