"""Where a command speaks into, and the short files that it reads, whatever they are."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

HUGE = 'units = "us' + " us" * 200_000 + '"\n'
COMMANDS = ("calc gravity 1.052", "units", "--help", "calc --help", "--version", "batch yeasts")


def shell(tmp_path: Path, words: str, redirected: str = "") -> subprocess.CompletedProcess[str]:
    """A command as a shell runs it, with what its streams go to."""
    environment = {**os.environ, "XDG_CONFIG_HOME": str(tmp_path), "XDG_STATE_HOME": str(tmp_path / "state")}
    return subprocess.run(
        ["sh", "-c", f"{sys.executable} -m fermwatch {words} {redirected}"],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        timeout=30,
        env=environment,
    )


@pytest.mark.parametrize("words", COMMANDS)
@pytest.mark.parametrize(
    ("redirected", "why"), [(">/dev/full", "No space left on device"), (">&-", "not writable"), (">&- <&-", "")]
)
def test_what_cannot_be_said_is_one_sentence(tmp_path: Path, words: str, redirected: str, why: str) -> None:
    done = shell(tmp_path, words, redirected)
    if words.endswith(("--help", "--version")) and not done.stderr:  # argparse passes over it
        assert done.returncode == 0
        return
    assert done.returncode == 74, done.stderr
    assert done.stderr.startswith(f"fermwatch: What there is to say cannot be written: {why}")
    assert len(done.stderr.splitlines()) == 2


def test_an_error_on_a_terminal_is_broken_between_words(tmp_path: Path) -> None:
    """80 columns cut "Add --although" in two; in a pipe it is a line for the error and one for its remedy."""
    words = "bottle nothing-of-that-name --units furlongs"
    told = shell(tmp_path, words).stderr
    seen, terminal = os.openpty()
    with os.fdopen(terminal, "wb") as errors, os.fdopen(seen, "rb", buffering=0) as screen:
        environment = {**os.environ, "XDG_CONFIG_HOME": str(tmp_path), "COLUMNS": "60"}
        command = [sys.executable, "-m", "fermwatch", *words.split()]
        subprocess.run(command, stderr=errors, stdin=subprocess.DEVNULL, check=False, timeout=30, env=environment)
        shown = screen.read(4096).decode().splitlines()
    assert max(map(len, shown)) <= 60 < max(map(len, told.splitlines()))
    assert " ".join(" ".join(shown).split()) == " ".join(told.split())


def test_a_command_whose_every_stream_is_closed_ends(tmp_path: Path) -> None:
    assert shell(tmp_path, "calc gravity 1.052", ">&- 2>&- <&-").returncode == 74
    assert shell(tmp_path, "calc gravity nonsense", "2>&-").returncode == 2


def lay(file: Path, what: str) -> None:
    file.parent.mkdir()
    if what == "pipe":
        os.mkfifo(file)
    elif what == "endless":
        file.symlink_to("/dev/zero")
    elif what == "directory":
        file.mkdir()
    elif what == "loop":
        file.symlink_to(file)
    elif what == "huge":
        file.write_text(HUGE)
    elif what == "bytes":
        file.write_bytes(b"\xff\xfe")
    else:
        file.write_text(what)


@pytest.mark.parametrize(
    "what", ["pipe", "endless", "directory", "loop", "huge", "bytes", 'units = "furlongs"', "units = 5", "units = ["]
)
def test_broken_preferences_keep_nobody_from_an_answer(tmp_path: Path, what: str) -> None:
    lay(tmp_path / "fermwatch" / "preferences.toml", what)
    done = shell(tmp_path, "calc keg 2.4")
    assert done.returncode == 0, done.stderr
    assert " bar" in done.stdout
    said, remedy = done.stderr.splitlines()
    assert "preferences.toml" in said
    assert remedy == "  Until then numbers are said in °C, SG and litres. Say anew what you want: fermwatch units us"


def test_a_configuration_that_is_no_file_is_never_read(tmp_path: Path) -> None:
    for what in ("pipe", "endless"):
        file = tmp_path / what / "fermwatch.toml"
        lay(file, what)
        done = shell(tmp_path, f"--config {file} status")
        assert done.returncode == 78
        assert f"{file}: it is no regular file." in done.stderr
