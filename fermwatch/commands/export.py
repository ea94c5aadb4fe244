"""`fermwatch export`: what is kept, as tables for other programs."""

import argparse
import sys
from pathlib import Path

from fermwatch.commands import sheet
from fermwatch.commands.context import Context
from fermwatch.commands.moments import instant
from fermwatch.commands.site import Site, find_batch, open_site
from fermwatch.commands.writing import refuse_what_is_there, written
from fermwatch.errors import InputError
from fermwatch.report.parquet_files import check_there
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
        "--format", choices=TableForm, type=TableForm, default=TableForm.CSV, help="csv (unless said), jsonl or parquet"
    )
    parser.add_argument("--batch", metavar="BATCH", help="of this one alone: its name, identity or fermenter")
    parser.add_argument("--since", metavar="WHEN", help='nothing of before: "2026-03-01", "2026-03-01 21:30"')
    parser.add_argument("--overwrite", action="store_true", help="also over files of an earlier export")


def run(options: argparse.Namespace, context: Context) -> int:
    if options.directory is None and options.what is None:
        raise InputError("Where to, or what?", hint="fermwatch export DIRECTORY, or: fermwatch export --what readings")
    if options.format is TableForm.PARQUET:
        check_there()
    tables = TABLES if options.what is None else (NAMES[options.what],)
    with open_site(context) as site:
        scope = _scope(options, site)
        if options.directory is None:
            _write_out(options.format, tables[0], site, scope)
            return 0
        files = {table.name: options.directory / f"{table.name}.{options.format}" for table in tables}
        options.directory.mkdir(parents=True, exist_ok=True)
        refuse_what_is_there([*files.values()], overwrite=options.overwrite)
        counts = {}
        for table in tables:
            with written(files[table.name]) as out:
                counts[table.name] = write(options.format, out, table.columns, rows_of(table, site.reader, scope))
    told = ", ".join(f"{name} {count}" for name, count in counts.items())
    sheet.tell(context, f"Exported to {options.directory}, rows of each: {told}.")
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
