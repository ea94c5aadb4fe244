"""People's commands: parse, then import only what the command needs. `fermwatch status` is typed often, and every
import is felt on a small board.
"""

import argparse
import importlib
import os
import signal
import sys
from collections.abc import Container, Sequence
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import fermwatch
from fermwatch.commands.context import Context
from fermwatch.commands.parser import Parser
from fermwatch.errors import FermwatchError, StoreMissing
from fermwatch.saying.voice import CANONICAL

# name -> what it is for, in the order of a batch's life. Each lives in fermwatch/commands/NAME.py, with `arguments`
# (what it takes; it gives back the parsers of its parts, if it has any) and `run` (what it does; the exit status).
COMMANDS = {
    "demo": "an invented cellar, live: nothing to set up, nothing left behind",
    "watch": "watch the site, headless, until stopped: what a service runs",
    "dashboard": "the screen over the store; what `fermwatch` alone opens",
    "status": "how everything is, in one plain screenful",
    "snapshot": "any page of the dashboard as it is now, as text or as a picture",
    "batch": "open, show, edit, package and end batches",
    "measure": "a gravity by hand: corrected, shown, then stored",
    "instrument": "your instruments by name: scale, water check and wort factor said once",
    "note": "what was seen, smelt, tasted or done",
    "plan": "temperatures one after another, each with what ends it",
    "controller": "how far fermwatch may go with a temperature controller, and what it did",
    "add": "what went into the beer: hops, sugar, fruit",
    "calc": "the computing of the trade: gravity, alcohol, sugar, pressure and more",
    "bottle": "may this beer be bottled now? exit status 0 for safe alone",
    "alarms": "what needs you now, what was seen, what is quiet on purpose",
    "health": "how probes, sources, store and messages do, each with its remedy",
    "notify": "the ways to people: how they do, what they told, and a test",
    "ack": "say that an alarm was seen",
    "shelve": "keep an alarm quiet for a while, or take it out of service",
    "units": "what numbers are said in: us, metric, plato and more; kept for you",
    "init": "make the watcher a service of this machine; each command is shown first",
    "listen": "what serial ports and a broker say, what it is likely to be, and the configuration for it",
    "check": "is everything right, from the configuration to what arrives? each with its remedy",
    "completion": "completion of commands and options, for bash, zsh or tcsh",
    "manual": "the manual page",
    "replay": "what would have been said of a recorded log, and when",
    "import": "take a recorded log into the store, as history",
    "export": "what is kept, as tables for a spreadsheet or a program",
    "report": "a batch on one page, for a screen and for paper",
    "publish": "the site as documents on a broker, and as sensors of a home automation",
    "metrics": "the site as numbers, for a program that keeps and draws them",
    "backup": "a copy of the store in one file, made beside the watcher and read back",
    "restore": "put a backup in the place of the store, where nobody watches",
}
BROKEN_PIPE, IO_ERROR = 141, 74  # as a shell counts SIGPIPE; EX_IOERR of sysexits.h
MODULES = {"import": "import_log"}  # where the command's name cannot be a module's


def parser_for(argv: Sequence[str]) -> argparse.ArgumentParser:
    """The parser, with the arguments of the one command that is asked for: its module alone is imported."""
    asked = _asked(argv)
    return _parser([] if asked is None else [asked])


def _parser(whole: Container[str]) -> argparse.ArgumentParser:
    """whole: the commands whose modules are imported for their arguments."""
    parser = Parser(
        prog="fermwatch",
        description="Watches home fermentations, from pitch to the last fresh bottle. Alone, it opens the dashboard.",
    )
    parser.add_argument("--version", action="version", version=f"fermwatch {fermwatch.__version__}")
    _add_place(parser, top=True)
    parser.set_defaults(whole=whole_parser)  # for what is made of all commands
    parser.set_defaults(reader=CANONICAL)  # until the command asks the context what the reader's units are
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    for name, purpose in COMMANDS.items():
        command = commands.add_parser(name, help=purpose, description=f"{purpose[0].upper()}{purpose[1:]}.")
        if name in whole:
            parts = _module(name).arguments(command) or ()
            for each in (command, *parts):
                _add_place(each, top=False)
    return parser


def whole_parser() -> argparse.ArgumentParser:
    """The parser with the arguments of every command, for a manual and a shell's completion: imports all of them."""
    return _parser(COMMANDS)


def _asked(argv: Sequence[str]) -> str | None:
    """The command among the words: not the value of an option that stands before it, as a site called "demo"."""
    before = argparse.ArgumentParser(add_help=False, allow_abbrev=False)
    _add_place(before, top=True)
    _, rest = before.parse_known_args([*argv])
    return next((word for word in rest if word in COMMANDS), None)


def _add_place(parser: argparse.ArgumentParser, *, top: bool) -> None:
    """Where the configuration and the store are: said before or after the command."""
    unset = None if top else argparse.SUPPRESS
    group = parser.add_argument_group("where")
    group.add_argument("--config", type=Path, default=unset, metavar="FILE", help="the configuration to use")
    group.add_argument("--store", type=Path, default=unset, metavar="DIRECTORY", help="where the readings are kept")
    group.add_argument("--site", default=unset, metavar="NAME", help="the site, where one store holds several")
    reader = parser.add_argument_group("how")
    reader.add_argument(
        "--units", default=unset, metavar="WORDS", help="as `fermwatch units` takes them: us, plato, ..."
    )


def _module(name: str) -> ModuleType:
    return importlib.import_module(f"fermwatch.commands.{MODULES.get(name, name)}")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit status. What goes wrong is one sentence with a remedy, on standard error."""
    _put_something_where_streams_are_closed()
    words = list(sys.argv[1:] if argv is None else argv)
    if argv is None and "watch" in words:
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGHUP})  # would end it before it can hear to read anew
    context = Context(None, None, None, dict(os.environ))
    try:
        try:
            arguments = parser_for(words).parse_args(words)
            context = replace(
                context,
                config=arguments.config,
                store=arguments.store,
                site=arguments.site,
                units_said=arguments.units,
            )
            return int(_module(arguments.command or "dashboard").run(arguments, context))
        finally:
            sys.stdout.flush()
    except (FermwatchError, OSError, ExceptionGroup) as error:
        return _ended_by(error, context)


def _put_something_where_streams_are_closed() -> None:
    """As after `>&-`: else the next file that is opened, a store perhaps, would get what is said. Standard output can
    then not be written, which is told; what goes wrong cannot be told at all.
    """
    while (descriptor := os.open(os.devnull, os.O_RDWR)) <= 2:
        os.set_inheritable(descriptor, True)
    os.close(descriptor)
    sys.stdin = sys.stdin or os.fdopen(0, encoding="utf-8")
    sys.stdout = sys.stdout or os.fdopen(1, encoding="utf-8")
    sys.stderr = sys.stderr or os.fdopen(2, "w", encoding="utf-8")


def _ended_by(error: Exception, context: Context) -> int:
    """The exit status after an error that is told. What happened in a group of tasks is told as if alone."""
    while isinstance(error, ExceptionGroup) and len(error.exceptions) == 1:
        error = error.exceptions[0]
    if isinstance(error, StoreMissing):
        error = importlib.import_module("fermwatch.commands.mistaken").behind(error, context)
    if isinstance(error, FermwatchError):
        context.complain(error)
        return error.exit_status
    if isinstance(error, OSError):
        # What was not written yet would be tried again at the end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if isinstance(error, BrokenPipeError):  # as `| head` does: nobody is left to tell
            return BROKEN_PIPE
        about = f"{error.filename}: " if error.filename else "What there is to say cannot be written: "
        context.complain(FermwatchError(f"{about}{error.strerror or error}.", hint="See where it should go."))
        return IO_ERROR
    raise error
