"""The command line's parser: a mistake is one sentence with its remedy, and words may follow the options."""

import argparse
import difflib
import re
import sys
from collections.abc import Iterable
from typing import Any, NoReturn

from fermwatch.text import clean

_NO_CHOICE = re.compile(r"argument ([^:]+): invalid choice: '(.*)' \(choose from (.*)\)", re.DOTALL)
_OPTION = re.compile(r"--[a-z][a-z-]*")
_BELOW_ZERO = re.compile(r"-\d[\d.]*\s*[°A-Za-z]*")
_WHAT = {"COMMAND": "command"}


class Parser(argparse.ArgumentParser):
    """As the standard library's, for the command and for its parts."""

    def parse_known_args(
        self,
        args: Iterable[str] | None = None,
        namespace: Any = None,  # noqa: ANN401 - as typeshed
    ) -> tuple[Any, list[str]]:
        """A command that takes TEXT takes it before and after its options alike; a value may be below zero."""
        known, rest = super().parse_known_args(_joined(sys.argv[1:] if args is None else args), namespace)
        if rest and isinstance(getattr(known, "text", None), list) and not any(word.startswith("-") for word in rest):
            known.text = [*known.text, *rest]
            rest = []
        return known, rest

    def error(self, message: str) -> NoReturn:
        self.exit(2, f"fermwatch: {clean(_sentence(message), 600)}\n  See: {self.prog} --help\n")


def _joined(words: Iterable[str]) -> list[str]:
    """`--storage -1C` as `--storage=-1C`: the standard library takes the value for an option of its own."""
    joined: list[str] = []
    for word in words:
        if joined and _BELOW_ZERO.fullmatch(word) and _OPTION.fullmatch(joined[-1]):
            joined[-1] = f"{joined[-1]}={word}"
        else:
            joined.append(word)
    return joined


def _sentence(message: str) -> str:
    """The standard library's message, but a choice that there is none of is answered with the nearest one."""
    match = _NO_CHOICE.fullmatch(message)
    if match is None:
        return f"{message}."
    argument, said, listed = match.groups()
    known = re.findall(r"'([^']*)'", listed)
    near = difflib.get_close_matches(said, known, n=1)
    meant = f"did you mean {near[0]}?" if near else f"there is {', '.join(known)}."
    return f"{_WHAT.get(argument, argument)} {said!r:.40} is not known: {meant}"
