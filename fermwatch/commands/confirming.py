"""Asking a person once before something is stored."""

import sys
from collections.abc import Sequence

from fermwatch.commands.context import Context
from fermwatch.errors import InputError


def confirmed(context: Context, question: str, *, yes: bool) -> bool:
    """Whether to go on: by `--yes`, or by a yes at the terminal. InputError where there is neither."""
    if yes:
        return True
    if not at_a_terminal():
        raise InputError(
            "Nothing was stored: this asks first, and there is no terminal to ask at.",
            hint="Look at what it says above, then run it again with --yes.",
        )
    if asked(f"{question} [y/N]").casefold() in {"y", "yes"}:
        return True
    context.say("Nothing was stored.")
    return False


def asked(question: str) -> str:
    """What a person at the terminal answers; empty where nothing."""
    try:
        return input(f"{question} ").strip()
    except EOFError:
        return ""


def at_a_terminal() -> bool:
    """Whether there is somebody who can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()


BESIDE_YES = " beside --yes"


def refuse_doubted(
    reasons: Sequence[str], *, yes: bool, despite: bool, option: str, remedy: str = "", beside: str = BESIDE_YES
) -> None:
    """InputError where what was just doubted would be stored by a mere `--yes`, which nobody may have looked at.

    reasons: what is doubted, one sentence or two each. At a terminal the question is asked below them instead.
    beside: empty for a command that never asks, and so has no `--yes`.
    """
    if reasons and yes and not despite:
        hint = f"{remedy} Meant all the same? Add {option}{beside}.".strip()
        raise InputError(f"Nothing was stored. {' '.join(reasons)}", hint=hint)
