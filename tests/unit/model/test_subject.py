"""A subject is made, and read back, in one place."""

import re
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from fermwatch.model.subject import About, kind_of, name_of

PRODUCT = Path(__file__).parents[3] / "fermwatch"


@given(st.sampled_from(About), st.text())
def test_what_was_made_is_read_back_whatever_the_name_holds(about: About, name: str) -> None:
    assert (kind_of(about.of(name)), name_of(about.of(name))) == (about, name)


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
