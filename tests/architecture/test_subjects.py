"""A subject is made, and read back, by model/subject.py alone."""

import re
from pathlib import Path

from fermwatch.model.subject import About

PRODUCT = Path(__file__).parents[2] / "fermwatch"


def test_nobody_else_writes_one_out() -> None:
    kinds = "|".join(About)
    written_out = re.compile(rf"""["'](?:{kinds}):[\w{{-]""")
    found = [
        f"{path.relative_to(PRODUCT)}: {line.strip()}"
        for path in sorted(PRODUCT.rglob("*.py"))
        for line in path.read_text().splitlines()
        if written_out.search(line)
    ]
    assert found == []
