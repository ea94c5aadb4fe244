"""A shell's completion and the manual page are made of the parser that reads the commands, and of nothing else."""

import re
import shutil
import subprocess

import pytest

from fermwatch.cli import COMMANDS, main, whole_parser
from fermwatch.commands.manual import page


@pytest.mark.parametrize("shell", ["bash", "zsh", "tcsh"])
def test_a_shell_gets_every_command_and_its_options(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", shell]) == 0
    script = capsys.readouterr().out
    assert all(name in script for name in COMMANDS)
    assert "exit-status" in script


@pytest.mark.skipif(shutil.which("bash") is None, reason="there is no bash")
@pytest.mark.parametrize(
    ("typed", "wanted"),
    [
        (("st",), {"status"}),
        (("batch", "o"), {"open"}),
        (("batch", "open", "--yea"), {"--yeast"}),
        (("status", "--exit"), {"--exit-status"}),
        (("completion", "z"), {"zsh"}),
    ],
)
def test_bash_completes_what_was_begun(
    typed: tuple[str, ...], wanted: set[str], capsys: pytest.CaptureFixture[str]
) -> None:
    main(["completion", "bash"])
    script = capsys.readouterr().out
    words = " ".join(("fermwatch", *typed))
    ask = f"COMP_WORDS=({words}); COMP_CWORD={len(typed)}; _shtab_fermwatch; printf '%s\\n' \"${{COMPREPLY[@]}}\""
    done = subprocess.run(
        ["bash", "--norc", "-c", f"{script}\n{ask}"], capture_output=True, text=True, timeout=30, check=True
    )
    assert wanted <= {word.strip() for word in done.stdout.split()}, done.stdout + done.stderr


def test_the_manual_has_every_command_once_and_no_line_is_a_request_by_mistake() -> None:
    lines = list(page(whole_parser()))
    for name in COMMANDS:
        assert lines.count(f".SS {name}") == 1
    known = (".TH ", ".SH ", ".SS ", ".TP", ".B ")
    assert all(line.startswith(known) or not line.startswith((".", "'")) for line in lines)
    assert not any("\n" in line for line in lines)
    assert any(r"\-\-exit\-status" in line for line in lines)


@pytest.mark.skipif(shutil.which("groff") is None, reason="there is no groff")
def test_roff_sets_the_manual_without_a_complaint(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["manual"]) == 0
    roff = capsys.readouterr().out
    done = subprocess.run(
        ["groff", "-man", "-Tutf8", "-ww"], input=roff, capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0
    assert done.stderr == ""
    assert "batch open" in re.sub(r".\x08|\x1b\[[0-9;]*m", "", done.stdout)  # bold, as terminals of old print it
