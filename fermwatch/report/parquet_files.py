"""Tables as Parquet, by the optional package pyarrow: each column with its type, so many rows in memory at a time."""

import importlib
import itertools
import json
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from typing import Any, TextIO

from fermwatch.errors import InputError
from fermwatch.report.tables import Row

AT_A_TIME = 10_000  # rows
_TRUTHS = frozenset(
    {"voided", "degassed", "stands", "needs_attention", "out_of_service", "last_known", "believed"}
    | {"yeast_diastatic", "yeast_bottom_fermenting", "yeast_maltose_negative"}
)
_SEVERAL = frozenset({"extract_adjuncts_g_per_l"})  # by name, as JSON
_INSTANT_ENDINGS = ("_at", "since", "until", "safe_from")
_NUMBER_ENDINGS = (
    *("_sg", "_c", "_l", "_s", "_h", "_abv", "_points", "_per_day", "_bar", "_bar_gauge", "_fraction"),
    *("attenuation", "attenuation_low", "attenuation_high", "volumes", "reading", "occurrence"),
)


def check_there() -> None:
    """InputError where the package is not installed."""
    _library()


def write_parquet(out: TextIO, columns: tuple[str, ...], rows: Iterable[Row]) -> int:
    """How many rows were written, to the bytes below `out`."""
    arrow, parquet = _library()
    kinds = {column: _kind(column) for column in columns}
    types = {"instant": arrow.timestamp("ms", tz="UTC"), "truth": arrow.bool_(), "number": arrow.float64()}
    schema = arrow.schema([(column, types.get(kind, arrow.string())) for column, kind in kinds.items()])
    count = 0
    with parquet.ParquetWriter(out.buffer, schema, compression="zstd") as writer:
        for part in _parts(rows):
            values = {column: [_VALUES[kind](row[column]) for row in part] for column, kind in kinds.items()}
            writer.write_table(arrow.table(values, schema=schema))
            count += len(part)
    return count


def _library() -> tuple[Any, Any]:
    try:
        return importlib.import_module("pyarrow"), importlib.import_module("pyarrow.parquet")
    except ImportError:
        raise InputError(
            "Parquet needs the Python package pyarrow.", hint='Install it: pip install "fermwatch[parquet]".'
        ) from None


def _parts(rows: Iterable[Row]) -> Iterator[list[Row]]:
    remaining = iter(rows)
    while part := list(itertools.islice(remaining, AT_A_TIME)):
        yield part


def _kind(column: str) -> str:
    """By its name, which says what stands in it."""
    if column in _SEVERAL:
        return "text"
    if column in _TRUTHS:
        return "truth"
    if column == "at" or column.endswith(_INSTANT_ENDINGS):
        return "instant"
    return "number" if column.endswith(_NUMBER_ENDINGS) else "text"


def _instant(value: Any) -> datetime | None:  # noqa: ANN401 - JSON
    return None if value is None else datetime.fromisoformat(str(value))


def _number(value: Any) -> float | None:  # noqa: ANN401 - JSON
    return None if value is None else float(value)


def _text(value: Any) -> str | None:  # noqa: ANN401 - JSON
    if value is None or isinstance(value, str):
        return value
    return json.dumps(value, ensure_ascii=False)


def _truth(value: Any) -> bool | None:  # noqa: ANN401 - JSON
    return None if value is None else bool(value)


_VALUES: dict[str, Callable[[Any], object]] = {"truth": _truth, "instant": _instant, "number": _number, "text": _text}
