"""One row of a file of checks, and whether a result meets it."""

import csv
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

KEPT_HERE = Path(__file__).with_name("checks.csv")


@dataclass(frozen=True, slots=True)
class CheckRow:
    """A quantity, what goes in, what must come out, and where that is published."""

    id: str
    quantity: str
    inputs: Mapping[str, float | str]
    expected: str
    tolerance: float
    tolerance_kind: str
    source: str

    @property
    def must_be_refused(self) -> bool:
        return self.expected == "reject"

    def is_met_by(self, result: float | str) -> bool:
        if isinstance(result, str):
            return result == self.expected
        expected = float(self.expected)
        allowed = {"abs": self.tolerance, "rel": self.tolerance * abs(expected), "exact": 0.0}[self.tolerance_kind]
        return abs(float(result) - expected) <= allowed


def read_rows(path: Path) -> list[CheckRow]:
    with path.open(encoding="utf-8", newline="") as lines:
        return [
            CheckRow(
                id=row["id"],
                quantity=row["quantity"],
                inputs=json.loads(row["inputs"]),
                expected=row["expected"].strip(),
                tolerance=float(row["tolerance"]),
                tolerance_kind=row["tol_kind"],
                source=row["source"],
            )
            for row in csv.DictReader(lines)
        ]
