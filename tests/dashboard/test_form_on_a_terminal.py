"""A form on a real terminal, over a real store: killed while it is sent, of every kind, and the smallest."""

import os
import signal
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fermwatch.contracts.inbox import RequestKind
from fermwatch.inbox import letters
from fermwatch.inbox.sending import inbox_directory
from tests.dashboard.terminal import GUARD_S, Terminal
from tests.dashboard.test_on_a_terminal import HARMFUL, only_text
from tests.support.command_line import CommandLine, command_line

KILLS = int(os.environ.get("FERMWATCH_KILLS", "10"))  # 100 before a release
MOMENTS_S = (0.0, 0.001, 0.002, 0.003, 0.005, 0.008, 0.012, 0.02, 0.05, 0.15)  # from the key that sends


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> CommandLine:
    desk = command_line(tmp_path / "store", datetime.now(UTC).replace(microsecond=0), capsys)
    desk.done("batch", "open", "Harvest Ale", "--vessel", "left", "--og", "1.052", "--yeast", "clean-ale", "--yes")
    return desk


def dashboard(desk: CommandLine, *, columns: int = 80, rows: int = 24, **more: str) -> Terminal:
    words = ["-m", "fermwatch", "--store", str(desk.directory), "--site", "home"]
    environment = {"HOME": str(desk.directory.parent), **more}
    return Terminal(words, columns=columns, rows=rows, environment=environment)


def asked_about(terminal: Terminal) -> None:
    """A gravity was typed into its form, and the question stands."""
    terminal.until("Left bu")
    terminal.type("i")
    terminal.until("a gravity by hand")
    terminal.type("\r")
    terminal.until("reading")
    terminal.type("1.040\r")
    terminal.until("Store 1.0")


def test_killed_while_it_is_sent_it_loses_nothing_and_leaves_nothing(desk: CommandLine) -> None:
    """What was said to be kept is; what was not is there whole or not at all; and no process stays."""
    inbox = inbox_directory(desk.directory, "home")
    kept = 0
    for number in range(KILLS):
        terminal = dashboard(desk)
        asked_about(terminal)
        terminal.type("\r")
        terminal.listen(MOMENTS_S[number % len(MOMENTS_S)])
        said_to_be_kept = "Gravity by hand" not in terminal.screen
        terminal.hang_up()
        try:
            terminal.process.wait(GUARD_S)
        finally:
            if terminal.process.poll() is None:
                os.killpg(terminal.process.pid, signal.SIGKILL)
        left = sorted(one.name for one in inbox.iterdir())
        sent = [name for name in left if name.endswith(".json")]
        assert [name for name in left if name.endswith(".part")] == []
        assert len(sent) in ({1} if said_to_be_kept else {0, 1})
        for name in sent:
            request = letters.read(name, (inbox / name).read_bytes(), "anna")
            assert request.kind is RequestKind.MEASURE
            assert request.payload["batch"]
        assert [outcome.state for outcome in desk.attend()] == ["done"] * len(sent)
        kept += len(sent)
    assert kept > 0
    with desk.reader() as reader:
        (batch,) = reader.batches()
        assert len(reader.measurements(batch.id)) == kept


@pytest.mark.parametrize("kind", ["xterm-256color", "screen", "linux", "vt100"])
def test_on_every_kind_of_terminal_and_the_smallest(desk: CommandLine, kind: str) -> None:
    with dashboard(desk, columns=40, rows=12, TERM=kind) as terminal:
        asked_about(terminal)
        terminal.type("\r")
        terminal.until("Kept in the inbox")
        text = only_text(bytes(terminal.sent))
    assert not HARMFUL.findall(text)
    if kind in {"linux", "vt100"}:
        assert text.isascii(), sorted({sign for sign in text if not sign.isascii()})
    assert [outcome.state for outcome in desk.attend()] == ["done"]
