"""What a brewer's earlier batches with the same yeast tell of the one that ferments: from commands to screens."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from fermwatch.inbox.receiving import open_inbox
from fermwatch.watching.logbook import Logbook
from tests.support.command_line import CommandLine, command_line
from tests.support.stores import open_writer

NOW = datetime(2026, 3, 12, 18, 7, tzinfo=UTC)
OPEN = ("--vessel", "left", "--og", "1.050", "--yeast", "clean-ale", "--volume", "20L", "--yes")
READ = ("measure", "left", "hydrometer")
SURE = ("--sample", "20C", "--degassed", "--yes", "--even-so")
PACKED = ("batch", "package", "left", "--package", "soda-pet", "--volumes", "2.2", "--warmest", "20C")
NOT_SAFE = ("--although-not-safe", "--yes")
BEFORE = (
    ("batch", "open", "First", *OPEN, "--pitched-at", "2026-01-01 18:00"),
    (*READ, "1.014", *SURE, "--at", "2026-01-16 18:00"),
    (*READ, "1.014", *SURE, "--at", "2026-01-18 18:00"),
    (*PACKED, *NOT_SAFE, "--at", "2026-01-19 18:00"),
    ("batch", "open", "Second", *OPEN, "--pitched-at", "2026-02-01 18:00"),
    (*READ, "1.013", *SURE, "--at", "2026-02-16 18:00"),
    (*READ, "1.013", *SURE, "--at", "2026-02-18 18:00"),
    (*PACKED, *NOT_SAFE, "--at", "2026-02-19 18:00"),
    ("batch", "open", "Third", *OPEN, "--pitched-at", "2026-03-09 18:00"),
    (*READ, "1.030", *SURE, "--at", "2026-03-12 17:00"),
)


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setattr("fermwatch.desk.asking.WAIT_S", -1.0)  # what is typed is carried out below
    return command_line(tmp_path / "store", NOW, capsys)


def test_where_the_last_ones_ended_is_counted_and_said_wherever_the_end_is(desk: CommandLine) -> None:
    writer = open_writer(desk.directory, "home", NOW, ballast_bytes=4096)
    inbox = open_inbox(desk.directory, "home")
    logbook = Logbook(writer, inbox)
    logbook.begin(NOW)
    for words in BEFORE:
        desk.type(*words)
        outcomes = logbook.attend(NOW)
        assert [outcome.state for outcome in outcomes] == ["done"], (words, outcomes)
        logbook.decide(NOW)
    told = "your last two with this yeast ended at 72 to 74 %"
    assert told in " ".join(desk.type("status").text.split())
    assert told in " ".join(desk.type("bottle").text.split())
    inbox.close()
    writer.close()
