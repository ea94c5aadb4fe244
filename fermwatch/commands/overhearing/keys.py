"""Questions at a plain terminal that one key answers, or a few typed words."""

import contextlib
import os
import select
import sys
import termios
import tty
from collections.abc import Iterator, Mapping

from fermwatch.commands.context import Context

HABIT_S = 0.3
INTERRUPTED = "\x03"
ENDED = "\x04"


def at_a_terminal() -> bool:
    return sys.stdin.isatty() and sys.stdout.isatty()


@contextlib.contextmanager
def keys_at_once() -> Iterator[int]:
    """The terminal gives each key as it is pressed, unechoed; its descriptor. It is put back however this ends."""
    descriptor = sys.stdin.fileno()
    before = termios.tcgetattr(descriptor)
    try:
        tty.setcbreak(descriptor)
        yield descriptor
    finally:
        termios.tcsetattr(descriptor, termios.TCSADRAIN, before)


def pressed(context: Context, question: str, choices: Mapping[str, str], usual: str) -> str:
    """The key of one choice; enter takes the usual one. EOFError where the terminal is gone.

    choices: key -> what it means, in a word or two.
    """
    listed = "  ".join(f"{key} {meaning}" for key, meaning in choices.items())
    context.say(f"{question}  {listed}")
    _write(f"  [{usual}] ")
    with _line_ended(), keys_at_once() as descriptor:
        termios.tcflush(descriptor, termios.TCIFLUSH)  # what was typed before the question answers nothing
        while True:
            key = os.read(descriptor, 1).decode("ascii", "replace").lower()
            if key in {"", ENDED}:
                raise EOFError
            entered = key in {"\r", "\n"}
            key = usual if entered else key
            if key in choices:
                _write(f"{choices[key]}\n")
                if not entered:
                    _let_go(descriptor)
                return key


def _let_go(descriptor: int) -> None:
    """Many press enter after a key by habit: it is no answer to what is asked next."""
    if select.select([descriptor], [], [], HABIT_S)[0]:
        termios.tcflush(descriptor, termios.TCIFLUSH)


@contextlib.contextmanager
def _line_ended() -> Iterator[None]:
    """Whoever interrupts finds the shell on a line of its own."""
    try:
        yield
    except KeyboardInterrupt:
        _write("\n")
        raise


def typed(question: str, usual: str) -> str:
    """A line of words; an empty one is the usual answer. EOFError where the terminal is gone."""
    return input(f"{question} [{usual}] ").strip() or usual


def _write(text: str) -> None:
    encoding = sys.stdout.encoding or "ascii"
    sys.stdout.write(text.encode(encoding, "replace").decode(encoding))
    sys.stdout.flush()
