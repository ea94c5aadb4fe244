"""The command line's parser: a mistake is one sentence with its remedy, and words may follow the options."""

import argparse
import difflib
import re
import sys
from collections.abc import Iterable, Iterator
from typing import Any, NoReturn

from fermwatch.text import clean

_NO_CHOICE = re.compile(r"argument ([^:]+): invalid choice: '(.*)' \(choose from (.*)\)", re.DOTALL)
_OPTION = re.compile(r"--[a-z][a-z-]*")
_BELOW_ZERO = re.compile(r"-\d[\d.]*\s*[°A-Za-z]*")
_UNKNOWN = re.compile(r"unrecognized arguments: (--[^ =]+)")
_WHAT = {"COMMAND": "command"}


class Parser(argparse.ArgumentParser):
    """As the standard library's, for the command and for its parts; no option is taken for a longer one."""

    def __init__(self, *words: Any, **settings: Any) -> None:  # noqa: ANN401 - as typeshed
        super().__init__(*words, **{"allow_abbrev": False, **settings})

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
        told = _unknown_option(message, self) or _sentence(message)
        self.exit(2, f"fermwatch: {clean(told, 600)}\n  See: {self.prog} --help\n")


class AsTyped(argparse.Action):
    """An option of several names, whose mistakes are told by the one that was typed: `typed_name`."""

    def __call__(self, _parser: object, namespace: Any, values: Any, option_string: str | None = None) -> None:  # noqa: ANN401 - as typeshed
        setattr(namespace, self.dest, values)
        setattr(namespace, f"{self.dest}_typed", option_string)


def typed_name(options: argparse.Namespace, dest: str) -> str:
    """What somebody typed for an option: its own name where it was not typed."""
    return getattr(options, f"{dest}_typed", None) or f"--{dest.replace('_', '-')}"


def actions_of(parser: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    """Every argument of a parser and of its parts."""
    for action in parser._actions:
        yield action
        if isinstance(action, argparse._SubParsersAction):
            for part in action.choices.values():
                yield from actions_of(part)


def _options_of(parser: argparse.ArgumentParser) -> set[str]:
    """The long options of a parser and of its parts."""
    return {option for action in actions_of(parser) for option in action.option_strings if option.startswith("--")}


def _unknown_option(message: str, parser: argparse.ArgumentParser) -> str:
    """The sentence for an option that there is none of, with the one that may be meant; empty for another mistake."""
    match = _UNKNOWN.match(message)
    if match is None:
        return ""
    said, known = match[1], sorted(_options_of(parser))
    longer = [option for option in known if option.startswith(said)]
    near = longer or difflib.get_close_matches(said, known, n=1)
    return f"{said:.40} is not known{f': did you mean {near[0]}?' if near else '.'}"


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
