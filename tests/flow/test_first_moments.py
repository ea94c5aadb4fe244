"""The program is interrupted before it has begun."""

import signal
import subprocess
import sys

import pytest

# Interrupts itself when a module of that name is looked for, then goes on as the installed program does.
PROGRAM = """
import os, runpy, signal, sys
class Impatient:
    def find_spec(self, name, path=None, target=None):
        if name == {name!r}:
            os.kill(os.getpid(), signal.{number})
sys.meta_path.insert(0, Impatient())
sys.argv = ["fermwatch", "status"]
runpy.run_module("fermwatch", run_name="__main__", alter_sys=True)
"""


def interrupted(name: str, *, deaf: bool = False) -> "subprocess.CompletedProcess[str]":
    heard = signal.SIG_IGN if deaf else signal.SIG_DFL
    return subprocess.run(
        [sys.executable, "-c", PROGRAM.format(name=name, number="SIGINT")],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
        preexec_fn=lambda: signal.signal(signal.SIGINT, heard),
    )


@pytest.mark.parametrize("name", ["fermwatch.cli", "argparse", "fermwatch.commands.status", "fermwatch.report"])
def test_an_interrupt_while_it_is_being_loaded_ends_it_without_a_word(name: str) -> None:
    done = interrupted(name)
    assert (done.stdout, done.stderr) == ("", "")
    assert done.returncode in {-signal.SIGINT, 130}


def test_who_is_deaf_to_interrupts_stays_so() -> None:
    """As a command that a shell's script left in the background."""
    done = interrupted("fermwatch.cli", deaf=True)
    assert done.returncode not in {-signal.SIGINT, 130}
    assert done.stderr.startswith("fermwatch: ")  # there is no store
