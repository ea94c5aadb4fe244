"""`fermwatch manual`: the manual page, in roff (man(7)), made of the parser that reads commands and options."""

import argparse
import re
from collections.abc import Iterator
from collections.abc import Set as AbstractSet

import fermwatch
from fermwatch.commands.context import Context

_FILES = {
    "~/.config/fermwatch/fermwatch.toml, /etc/fermwatch/fermwatch.toml": "what is watched; the first that is there",
    "~/.config/fermwatch/preferences.toml": "your units",
    "/var/lib/fermwatch, ~/.local/state/fermwatch": "readings and batches: of the service, and without one",
}
_STATUS = {
    "0": "done; for `bottle`, safe alone",
    "1": "not so: what was asked for is not there, or something is to be mended",
    "2": "what was typed cannot be meant so",
    "74": "the store cannot be read or written",
    "75": "the site is watched already",
    "77": "this user may not",
    "78": "the configuration is wrong",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.description = "Prints the manual page. To read it: fermwatch manual | man -l -"


def run(options: argparse.Namespace, context: Context) -> int:
    """options.whole makes the parser of all commands."""
    context.say("\n".join(page(options.whole())))
    return 0


def page(parser: argparse.ArgumentParser) -> Iterator[str]:
    """Its lines. The parser holds every command with its arguments."""
    yield f'.TH FERMWATCH 1 "" "fermwatch {fermwatch.__version__}" "User Commands"'
    yield from (".SH NAME", r"fermwatch \- watches home fermentations, from pitch to the last fresh bottle")
    yield from (".SH SYNOPSIS", ".B fermwatch", _plain("[COMMAND] [ARGUMENTS]"))
    yield from (".SH DESCRIPTION", _plain(parser.description or ""))
    yield from (".SH OPTIONS", *_arguments(parser))
    yield ".SH COMMANDS"
    known = {action.dest for action in parser._actions}
    for name, command in _parts(parser):
        yield from _command(name, command, known)
    for title, rows in (("FILES", _FILES), ("EXIT STATUS", _STATUS)):
        yield f".SH {title}"
        for name, meaning in rows.items():
            yield from (".TP", f".B {_plain(name)}", _plain(meaning))


def _command(name: str, command: argparse.ArgumentParser, known: AbstractSet[str]) -> Iterator[str]:
    """known: what every command takes, which was told once."""
    yield f".SS {_plain(name)}"
    yield _plain(command.description or "")
    yield from _arguments(command, known)
    for part, parser in _parts(command):
        yield from _command(f"{name} {part}", parser, known)


def _parts(parser: argparse.ArgumentParser) -> list[tuple[str, argparse.ArgumentParser]]:
    found = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    return [(name, part) for action in found for name, part in action.choices.items()]


def _arguments(parser: argparse.ArgumentParser, known: AbstractSet[str] = frozenset()) -> Iterator[str]:
    for action in parser._actions:
        hidden = action.help in {None, argparse.SUPPRESS} or action.dest in known
        if hidden or isinstance(action, argparse._SubParsersAction):
            continue
        names = ", ".join(rf"\fB{_plain(option)}\fR" for option in action.option_strings)
        value = "" if action.nargs == 0 else _value(action)
        yield from (".TP", " ".join(part for part in (names, value) if part), _plain(_help(action)))


def _value(action: argparse.Action) -> str:
    said = action.metavar or ("|".join(map(str, action.choices)) if action.choices else action.dest.upper())
    return rf"\fI{_plain(' '.join(said) if isinstance(said, tuple) else said)}\fR"


def _help(action: argparse.Action) -> str:
    return (action.help or "").replace("%(default)s", str(action.default)).replace("%%", "%")


def _plain(text: str) -> str:
    """One line of words that roff sets as they are: none is taken for a request, and a hyphen can be copied."""
    flat = re.sub(r"\s+", " ", text).strip().replace("\\", r"\e").replace("-", r"\-")
    return rf"\&{flat}" if flat.startswith((".", "'")) else flat
