"""`fermwatch completion`: what a shell needs to complete commands and options, made of the parser that reads them."""

import argparse
from pathlib import Path

from fermwatch.commands.context import Context
from fermwatch.commands.parser import actions_of

SHELLS = ("bash", "zsh", "tcsh")
_HOW = """\
bash   fermwatch completion bash > ~/.local/share/bash-completion/completions/fermwatch
zsh    fermwatch completion zsh > ~/.zfunc/_fermwatch     (with fpath+=~/.zfunc before compinit in ~/.zshrc)
tcsh   fermwatch completion tcsh > ~/.fermwatch.csh       (and source it in ~/.cshrc)
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.epilog = _HOW
    parser.add_argument("shell", choices=SHELLS, help="whose completion")


def run(options: argparse.Namespace, context: Context) -> int:
    """options.whole makes the parser of all commands."""
    import shtab

    parser: argparse.ArgumentParser = options.whole()
    for action in actions_of(parser):
        if action.type is Path:
            action.complete = shtab.DIRECTORY if action.metavar == "DIRECTORY" else shtab.FILE  # type: ignore[attr-defined]
    context.say(shtab.complete(parser, shell=options.shell))
    return 0
