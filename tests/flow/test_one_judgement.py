"""A watcher that goes on for long and `bottle`, which judges anew, say one thing of a beer at one instant."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from fermwatch.inbox.receiving import open_inbox
from fermwatch.judgement.following import follow
from fermwatch.model.finding import VerdictKind
from fermwatch.watching.logbook import Logbook
from tests.support.command_line import CommandLine, command_line
from tests.support.stores import open_writer

NOW = datetime(2026, 3, 12, 18, 7, tzinfo=UTC)
SAID = (
    ("note", "left", "forced-ferment", "--gravity", "1.012", "--kept-at", "25C", "--at", "2026-03-08 19:00", "--yes"),
    ("measure", "left", "hydrometer", "1.012", "--sample", "20C", "--degassed", "--at", "2026-03-10 19:00"),
    ("measure", "left", "hydrometer", "1.012", "--sample", "20C", "--degassed", "--at", "2026-03-11 20:00"),
    ("measure", "left", "hydrometer", "1.012", "--sample", "20C", "--degassed"),
    ("note", "left", "stands-at", "--temperature", "19C", "--since", "2026-03-02 18:00"),
    ("add", "left", "sugar", "--grams", "400", "--yes", "--even-so"),
)


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setattr("fermwatch.desk.asking.WAIT_S", -1.0)  # what is typed is carried out by `agree`
    return command_line(tmp_path / "store", NOW, capsys)


def test_what_is_kept_and_what_is_judged_anew_agree_after_all_that_was_said(desk: CommandLine) -> None:
    writer = open_writer(desk.directory, "home", NOW, ballast_bytes=4096)
    inbox = open_inbox(desk.directory, "home")
    logbook = Logbook(writer, inbox)
    logbook.begin(NOW)
    kinds = []

    def agree() -> None:
        now = desk.clock.now()
        logbook.attend(now)
        logbook.decide(now)
        (identity,) = writer.open_batches()
        batch, kept = writer.batch(identity), writer.judgement(identity)
        assert batch is not None
        assert kept is not None
        anew = follow(writer, batch, now).judge_at_once(now)
        assert (kept.verdict, kept.phase) == (anew.verdict, anew.phase)
        assert anew.verdict is not None
        kinds.append(anew.verdict.kind)

    opened = ("batch", "open", "Kept", "--vessel", "left", "--og", "1.050", "--yeast", "clean-ale", "--volume", "20L")
    desk.type(*opened, "--pitched-at", "2026-03-01 18:00", "--yes", "--package", "returnable-glass", "--volumes", "2.1")
    agree()
    for words in SAID:
        desk.clock.advance(5.0)
        desk.type(*words, *(("--yes", "--even-so") if words[0] == "measure" else ()))
        for seconds in (5.0, 2000.0, 9000.0):
            agree()
            desk.clock.advance(seconds)
    assert VerdictKind.SAFE in kinds
    assert kinds[-1] is not VerdictKind.SAFE
    inbox.close()
    writer.close()
