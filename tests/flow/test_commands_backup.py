"""`fermwatch backup` and `fermwatch restore`, as a person types them."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.clock import ManualClock
from fermwatch.contracts.store import JournalEntry
from fermwatch.control.degree import arming_said
from fermwatch.model.degree import Degree
from tests.support.command_line import CommandLine, command_line
from tests.support.stores import open_writer

NOW = datetime(2026, 3, 20, 12, tzinfo=UTC)


@pytest.fixture
def site(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> CommandLine:
    line = command_line(tmp_path / "store", NOW, capsys)
    line.hear_steady("left-beer", 19.0)
    line.done("batch", "open", "Plain ale", "--vessel", "left", "--og", "1.050", "--yeast", "clean-ale", "--yes")
    return line


def test_a_backup_says_what_is_in_it_and_comes_back(site: CommandLine, tmp_path: Path) -> None:
    with site.watched():
        said = site.type("backup", str(tmp_path))
        assert said.status == 0, said.error
        assert f"Backed up to {tmp_path}/home-20260320T120000Z.db" in said.text
        assert "12 readings until" in said.text
        assert "1 batch, 0 measurements" in said.text
        backup = str(tmp_path / "home-20260320T120000Z.db")
        refused = site.type("restore", backup, "--replace")
        assert refused.status == 75
        assert "Stop the watcher" in refused.error
    refused = site.type("restore", backup)
    assert refused.status == 2
    assert "Add --replace" in refused.error
    assert len(refused.error.splitlines()) == 2
    said = site.type("restore", backup, "--replace")
    assert said.status == 0, said.error
    assert "What was there before lies in" in said.text
    with site.reader() as reader:
        assert [batch.name for batch in reader.batches()] == ["Plain ale"]
        assert reader.journal(limit=1)[0].text.startswith("restored from home-20260320T120000Z.db by ")


def test_what_waits_in_the_inbox_is_told_and_carried_out_later(site: CommandLine, tmp_path: Path) -> None:
    site.type("note", "left", "smell", "of pears", "--yes")
    said = site.type("backup", str(tmp_path / "b.db"))
    assert "What waits in the inbox is not in it: 1 request." in said.text
    said = site.type("restore", str(tmp_path / "b.db"), "--replace")
    assert "1 request in the inbox will be carried out upon it" in said.text
    assert [outcome.state for outcome in site.attend()] == ["done"]


def test_a_controller_that_was_armed_in_the_backup_is_only_observed_afterwards(
    site: CommandLine, tmp_path: Path
) -> None:
    with open_writer(site.directory, "home", NOW) as writer:
        writer.enter([JournalEntry(NOW, "request", "controller:fridge", "drive: by anna")])
    site.type("backup", str(tmp_path / "armed.db"))
    site.clock = ManualClock(NOW + timedelta(days=3))
    site.type("restore", str(tmp_path / "armed.db"), "--replace")
    with site.reader() as reader:
        (last,) = reader.journal(kind="request", subject="controller:fridge", limit=1)
    assert arming_said(last.text, last.at).degree is Degree.OBSERVE


def test_what_is_no_backup_is_told_in_a_sentence(site: CommandLine, tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("dear all " * 1000)
    for name in ("letter.txt", "nowhere.db"):
        said = site.type("restore", str(tmp_path / name), "--replace")
        assert said.status == 74
        assert str(tmp_path / name) in said.error.splitlines()[0]
        assert len(said.error.splitlines()) == 2
        assert "Traceback" not in said.error
