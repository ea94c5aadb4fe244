"""The dashboard on a real pseudo-terminal: what it sends, what it leaves, and how it goes."""

import os
import re
import signal
import termios
import time
from pathlib import Path

import pytest

from tests.dashboard.terminal import GUARD_S, Terminal

PROGRAM = ["-m", "tests.dashboard.program"]
# Control sequences, and the one operating system command that Textual sends itself: the shape of the mouse pointer.
CONTROL_SEQUENCE = re.compile(rb"\x1b(?:\[[0-?]*[ -/]*[@-~]|[()][A-Z0-9]|[=>78M]|\]22;[a-z-]*\x07)")
HARMFUL = re.compile(
    "[\x00-\x07\x0e-\x1a\x1c-\x1f\x7f-\x9f\u200b\u200e\u200f\u202a-\u202e\u2028\u2029\u2066-\u2069\ufeff\u00ad]"
)
MOMENTS_S = (0.0, 0.0, 0.001, 0.002, 0.004, 0.006, 0.01, 0.015, 0.03, 0.06, 0.12, 0.25, 0.5)
# What changes a terminal, and what changes it back: another screen, no cursor, mouse reports, pasting in brackets.
PAIRED = (
    (b"\x1b[?1049h", b"\x1b[?1049l"),
    (b"\x1b[?25l", b"\x1b[?25h"),
    (b"\x1b[?1000h", b"\x1b[?1000l"),
    (b"\x1b[?2004h", b"\x1b[?2004l"),
)
NEVER_LOADED = {"numpy", "scipy", "pandas", "pydantic", "aiomqtt", "paho", "serial", "psycopg"}


def only_text(sent: bytes) -> str:
    """What was sent besides the control sequences that any full-screen program sends."""
    return CONTROL_SEQUENCE.sub(b"", sent).decode("utf-8")


def test_no_name_reaches_the_terminal_as_anything_but_harmless_text() -> None:
    with Terminal([*PROGRAM, "hostile"], columns=140, rows=50) as terminal:
        terminal.until("the store is in trouble")
        for keys in ("\x1b[B", "a", "\x1b[B", "\r", "\r", "a", "u", "?", "q"):
            terminal.type(keys)
            terminal.listen(0.3)
        assert terminal.process.poll() is None, terminal.screen
        shown = terminal.screen
    text = only_text(bytes(terminal.sent))
    assert not HARMFUL.findall(text)
    assert "\x1b" not in text
    assert "[@click=app.quit]" in text or "[@click=app.quit]" in shown


def test_the_modules_of_the_first_frame_are_few(tmp_path: Path) -> None:
    modules = tmp_path / "modules"
    with Terminal([*PROGRAM, "three", str(modules)]) as terminal:
        terminal.until("Middle")
        end = time.monotonic() + GUARD_S
        while not modules.exists() and time.monotonic() < end:
            terminal.listen(0.1)
    loaded = {name.partition(".")[0] for name in modules.read_text(encoding="utf-8").split()}
    assert "textual" in loaded
    assert loaded & NEVER_LOADED == set()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_signal_ends_it_with_the_terminal_put_back(number: signal.Signals) -> None:
    with Terminal([*PROGRAM, "three"]) as terminal:
        terminal.until("Middle")
        terminal.signal(number)
        assert terminal.ended() == 128 + number
        end = bytes(terminal.sent)
    assert b"\x1b[?1049l" in end
    assert end.rindex(b"\x1b[?25h") > end.rindex(b"\x1b[?25l")


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_signal_in_its_first_second_leaves_the_terminal_as_it_was(number: signal.Signals) -> None:
    """At any moment from the first byte that changes the terminal."""
    for moment in MOMENTS_S:
        with Terminal([*PROGRAM, "three"]) as terminal:
            before = termios.tcgetattr(terminal.master)
            terminal.first_byte()
            time.sleep(moment)
            terminal.signal(number)
            status = terminal.ended()
            sent = bytes(terminal.sent)
            assert status in {128 + number, -number}, (moment, sent[-300:])
            assert termios.tcgetattr(terminal.master) == before, (moment, status)
            for begun, ended in PAIRED:
                assert sent.rfind(ended) >= sent.rfind(begun), (moment, status, begun, sent[-300:])


@pytest.mark.parametrize("moment_s", [0.0, 0.15, 0.4, 1.0])
def test_a_terminal_that_is_gone_leaves_no_process(moment_s: float) -> None:
    terminal = Terminal([*PROGRAM, "three"])
    terminal.listen(moment_s)
    terminal.hang_up()
    try:
        terminal.process.wait(GUARD_S)
    finally:
        if terminal.process.poll() is None:
            os.killpg(terminal.process.pid, signal.SIGKILL)


@pytest.mark.parametrize("kind", ["xterm-256color", "screen-256color", "tmux-256color", "linux", "vt100", "ansi"])
@pytest.mark.parametrize("more", [{}, {"NO_COLOR": "1"}, {"LANG": "C"}], ids=["plain", "no-color", "lang-c"])
def test_every_kind_of_terminal_shows_the_three_stories(kind: str, more: dict[str, str]) -> None:
    with Terminal([*PROGRAM, "three"], environment={"TERM": kind, **more}) as terminal:
        shown = terminal.until("Right")
        terminal.listen(0.3)
        assert "!! Middle" in shown
        typed = kind in {"linux", "vt100", "ansi"} or more.get("LANG") == "C"
        text = only_text(bytes(terminal.sent))
        assert text.isascii() is typed, sorted({sign for sign in text if not sign.isascii()})
        if "NO_COLOR" in more:
            assert not _colours(bytes(terminal.sent))


def _colours(sent: bytes) -> list[bytes]:
    """What sets a colour, a grey too; 39 and 49 are the terminal's own."""
    styles = re.findall(rb"\x1b\[([\d;]*)m", sent)
    return [one for one in styles if re.search(rb"(^|;)(3[0-8]|4[0-8]|9[0-7]|10[0-7])(;|$)", one)]


def test_a_dumb_terminal_is_told_what_to_use() -> None:
    with Terminal([*PROGRAM, "three"], environment={"TERM": "dumb"}) as terminal:
        assert terminal.ended() == 2
        assert "fermwatch status" in terminal.screen


def test_the_demo_leaves_alone_what_a_person_keeps(tmp_path: Path) -> None:
    home, working = tmp_path / "home", tmp_path / "working"
    home.mkdir()
    working.mkdir()
    with Terminal(["-m", "fermwatch", "demo"], environment={"HOME": str(home), "TMPDIR": str(working)}) as terminal:
        terminal.until("Right fermenter")
        terminal.type("u")
        terminal.until("until you leave")
        assert " °F" in terminal.screen
        terminal.type("q")
        assert terminal.ended() == 0
    assert [*home.rglob("*")] == []
    assert [*working.iterdir()] == []
