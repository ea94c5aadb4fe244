"""What a form says, read and looked at by the very commands that a person may type instead."""

import argparse
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import NamedTuple

from fermwatch.commands import add, measure, note
from fermwatch.commands.batches import opening, packing
from fermwatch.commands.context import Context
from fermwatch.commands.measurements import entering, listing
from fermwatch.commands.site import Site, open_site
from fermwatch.desk.prepared import Prepared
from fermwatch.saying.voice import Units

Said = Mapping[str, str | bool | list[str]]


class ReadBy(NamedTuple):
    """Its options, and what reads them."""

    arguments: Callable[[argparse.ArgumentParser], None]
    prepared: Callable[[argparse.Namespace, Context, Site], Prepared]


def _void_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("identity")
    parser.add_argument("--reason")


def _void(options: argparse.Namespace, _context: Context, site: Site) -> Prepared:
    return listing.prepared_void(options, site, options.identity)


COMMANDS: Mapping[str, ReadBy] = {
    "measure": ReadBy(measure.arguments, entering.prepared),
    "note": ReadBy(note.arguments, note.prepared),
    "add": ReadBy(add.arguments, add.prepared),
    "open": ReadBy(opening.arguments, opening.prepared),
    "package": ReadBy(packing.arguments, packing.prepared),
    "void": ReadBy(_void_arguments, _void),
}


def options_of(command: str) -> dict[str, object]:
    """Every option of a command by its name, with what it is where nothing is said of it."""
    parser = argparse.ArgumentParser(add_help=False)
    COMMANDS[command].arguments(parser)
    found: dict[str, object] = {}
    for one in parser._actions:
        found.setdefault(one.dest, [] if one.nargs == "*" else one.default)  # of several, the first, as when typed
    return found


def prepare(context: Context, command: str, said: Said, units: Units) -> Prepared:
    """As it would stand. units: the reader's, in which bare numbers are taken.

    Raises what the command does: InputError for what it cannot take, with its remedy; StoreError, RequestRefused.
    """
    options = argparse.Namespace(**{**options_of(command), "even_so": False, "yes": False, **said, "reader": units})
    context = replace(context, units_said=" ".join(units.words))
    with open_site(context) as site:
        return COMMANDS[command].prepared(options, context, site)
