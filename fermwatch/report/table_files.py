"""Tables as text: CSV (RFC 4180, in UTF-8) that a spreadsheet takes for what it is, and JSON Lines; the door to
Parquet."""

import csv
import json
from collections.abc import Callable, Iterable
from enum import StrEnum
from typing import Any, TextIO

from fermwatch.report.parquet_files import write_parquet
from fermwatch.report.tables import Row
from fermwatch.text import clean

LONGEST = 32_000  # characters of a cell: more than a spreadsheet takes
# A spreadsheet runs what begins so, also behind blanks and in the wide forms of the signs (OWASP, "CSV Injection").
_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
_ESCAPED = ("\t", "\r", "\n")


class TableForm(StrEnum):
    CSV = "csv"
    JSON_LINES = "jsonl"
    PARQUET = "parquet"


def write(form: TableForm, out: TextIO, columns: tuple[str, ...], rows: Iterable[Row]) -> int:
    """How many rows were written."""
    return _WRITERS[form](out, columns, rows)


def _write_csv(out: TextIO, columns: tuple[str, ...], rows: Iterable[Row]) -> int:
    writer = csv.writer(out)
    writer.writerow(columns)
    count = 0
    for row in rows:
        writer.writerow([_cell(row[column]) for column in columns])
        count += 1
    return count


def _write_json_lines(out: TextIO, columns: tuple[str, ...], rows: Iterable[Row]) -> int:
    """ASCII alone: what is harmful in a text is escaped by the format itself."""
    count = 0
    for row in rows:
        plain = {column: row[column] for column in columns}
        out.write(f"{json.dumps(plain, separators=(',', ':'), allow_nan=False)}\n")
        count += 1
    return count


def _cell(value: Any) -> str | int | float:  # noqa: ANN401 - JSON
    """Numbers as they are, a negative one too; what is not known is empty; a text never is a formula."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return value
    if isinstance(value, list | dict):
        return defused(json.dumps(value, ensure_ascii=False)) if value else ""
    return defused(str(value))


def defused(text: str) -> str:
    """One harmless line that a spreadsheet shows as the text that it is."""
    if len(text) <= LONGEST and text.isascii() and text.isprintable() and text[:1].isalnum():
        return text  # as nearly all are: nothing to look for
    formula = text.startswith(_ESCAPED) or text.lstrip().startswith(_FORMULA)
    return f"'{clean(text, LONGEST)}" if formula else clean(text, LONGEST)


_WRITERS: dict[TableForm, Callable[[TextIO, tuple[str, ...], Iterable[Row]], int]] = {
    TableForm.CSV: _write_csv,
    TableForm.JSON_LINES: _write_json_lines,
    TableForm.PARQUET: write_parquet,
}
