"""`fermwatch batch`: open, show, list, edit, package and end batches."""

import argparse
from collections.abc import Callable, Sequence
from typing import NamedTuple

from fermwatch.commands.batches import editing, opening, packing, showing, yeast_table
from fermwatch.commands.context import Context


class Part(NamedTuple):
    purpose: str
    arguments: Callable[[argparse.ArgumentParser], None]
    run: Callable[[argparse.Namespace, Context], int]


PARTS = {
    "open": Part("say what was pitched, when and into what", opening.arguments, opening.run),
    "show": Part("one batch: what it is, where it stands, what was done", showing.show_arguments, showing.show),
    "list": Part("the open batches", showing.list_arguments, showing.list_all),
    "edit": Part("put right what was said of a batch", editing.edit_arguments, editing.edit),
    "package": Part(
        "reckon the sugar, the pressure and its risk, and record the packaging", packing.arguments, packing.run
    ),
    "end": Part(
        "watch and judge it no longer: it is given up, or its last bottle drunk", editing.end_arguments, editing.end
    ),
    "yeasts": Part("the generic kinds of yeast and their figures", yeast_table.arguments, yeast_table.run),
}


def arguments(parser: argparse.ArgumentParser) -> Sequence[argparse.ArgumentParser]:
    """Gives back the parsers of its parts."""
    parts = parser.add_subparsers(dest="part", metavar="WHAT", title="what", required=True)
    parsers = []
    for name, part in PARTS.items():
        parsers.append(parts.add_parser(name, help=part.purpose, description=f"{part.purpose.capitalize()}."))
        part.arguments(parsers[-1])
    return parsers


def run(options: argparse.Namespace, context: Context) -> int:
    return PARTS[options.part].run(options, context)
