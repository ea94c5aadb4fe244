"""Every row of the checks against the one public function of its quantity; the source stands in the row.

Provenance is a column of the file: `read` from the source, computed with a library, or `memory`.
"""

from pathlib import Path

import pytest

from fermwatch.errors import FermwatchError
from tests.reference.check_rows import KEPT_HERE, CheckRow, read_rows
from tests.reference.quantities import QUANTITIES


def rows_of(config: pytest.Config) -> list[CheckRow]:
    chosen: str | None = config.getoption("--checks", default=None)
    return read_rows(Path(chosen) if chosen else KEPT_HERE)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "row" in metafunc.fixturenames:
        rows = rows_of(metafunc.config)
        metafunc.parametrize("row", rows, ids=[f"{row.id}-{row.quantity}" for row in rows])


def test_the_published_value_is_met(row: CheckRow) -> None:
    quantity = QUANTITIES[row.quantity]
    if row.must_be_refused:
        with pytest.raises(FermwatchError):
            quantity.compute(row.inputs)
        return
    result = quantity.compute(row.inputs)
    assert row.is_met_by(result), (
        f"{result} against {row.expected} ± {row.tolerance} {row.tolerance_kind}: {row.source}"
    )


def test_every_quantity_of_the_file_has_a_function(request: pytest.FixtureRequest) -> None:
    assert {row.quantity for row in rows_of(request.config)} <= set(QUANTITIES)


def test_every_function_of_the_mapping_is_checked_by_a_row_kept_here() -> None:
    assert set(QUANTITIES) == {row.quantity for row in read_rows(KEPT_HERE)}


def test_a_row_is_not_met_by_a_value_just_beyond_its_tolerance() -> None:
    row = CheckRow("X", "abv", {}, "5.0", 0.03, "abs", "")
    assert row.is_met_by(5.03 - 1e-9)
    assert not row.is_met_by(5.0301)
    relative = CheckRow("X", "abv", {}, "5.0", 0.01, "rel", "")
    assert relative.is_met_by(5.0499)
    assert not relative.is_met_by(5.0501)
    assert not CheckRow("X", "crc8_maxim", {}, "A2", 0.0, "exact", "").is_met_by("A3")
