"""`fermwatch export`: what is kept, as tables for other programs."""

import argparse
import contextlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO

from fermwatch.commands.context import Context
from fermwatch.commands.moments import instant
from fermwatch.commands.site import Site, find_batch, open_site
from fermwatch.errors import InputError
from fermwatch.report.table_files import TableForm, write
from fermwatch.report.tables import FIRST, TABLES, Scope, Table, rows_of

NAMES = {table.name: table for table in TABLES}


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.epilog = "Times are in UTC, values in the unit that the column's name ends in; empty is not known."
    parser.add_argument("directory", nargs="?", type=Path, metavar="DIRECTORY", help="a file of each table goes there")
    parser.add_argument(
        "--what",
        choices=NAMES,
        metavar="TABLE",
        help=f"one table alone, to standard output where no directory is named: {', '.join(NAMES)}",
    )
    parser.add_argument(
        "--format", choices=TableForm, type=TableForm, default=TableForm.CSV, help="csv (unless said), or jsonl"
    )
    parser.add_argument("--batch", metavar="BATCH", help="of this one alone: its name, identity or fermenter")
    parser.add_argument("--since", metavar="WHEN", help='nothing of before: "2026-03-01", "2026-03-01 21:30"')
    parser.add_argument("--overwrite", action="store_true", help="also over files of an earlier export")


def run(options: argparse.Namespace, context: Context) -> int:
    if options.directory is None and options.what is None:
        raise InputError("Where to, or what?", hint="fermwatch export DIRECTORY, or: fermwatch export --what readings")
    tables = TABLES if options.what is None else (NAMES[options.what],)
    with open_site(context) as site:
        scope = _scope(options, site)
        if options.directory is None:
            _write_out(options.format, tables[0], site, scope)
            return 0
        files = {table.name: options.directory / f"{table.name}.{options.format}" for table in tables}
        _check_place(options.directory, [*files.values()], overwrite=options.overwrite)
        counts = {}
        for table in tables:
            with _written(files[table.name]) as out:
                counts[table.name] = write(options.format, out, table.columns, rows_of(table, site.reader, scope))
    told = ", ".join(f"{count} {name}" for name, count in counts.items())
    context.say(f"Exported to {options.directory}: {told}.")
    return 0


def _scope(options: argparse.Namespace, site: Site) -> Scope:
    batch = find_batch(site, options.batch) if options.batch else None
    since = instant(options.since, site.now, site.voice.zone, what="--since") if options.since else FIRST
    return Scope(batch, since)


def _write_out(form: TableForm, table: Table, site: Site, scope: Scope) -> None:
    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(encoding="utf-8", newline="")  # a program reads it, whatever the terminal can show
    write(form, sys.stdout, table.columns, rows_of(table, site.reader, scope))


def _check_place(directory: Path, files: list[Path], *, overwrite: bool) -> None:
    """Before anything is written."""
    directory.mkdir(parents=True, exist_ok=True)
    there = [file.name for file in files if os.path.lexists(file)]
    if there and not overwrite:
        raise InputError(
            f"{directory} holds {', '.join(there)} already. Nothing was written.",
            hint="Name another directory, or add --overwrite.",
        )


@contextlib.contextmanager
def _written(file: Path) -> Iterator[TextIO]:
    """Under another name until it is whole; no link is followed."""
    part = file.with_name(f".{file.name}.{os.getpid()}.part")
    descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC | os.O_NOFOLLOW, 0o640)
    try:
        with os.fdopen(descriptor, "w", encoding="utf-8", newline="") as out:
            yield out
        part.replace(file)
    finally:
        part.unlink(missing_ok=True)
