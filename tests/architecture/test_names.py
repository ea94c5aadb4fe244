"""Two things have two names: whoever reads `Outcome` need not ask which."""

import ast
from collections import defaultdict
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_no_two_public_classes_share_a_name() -> None:
    places: defaultdict[str, list[str]] = defaultdict(list)
    for folder in ("fermwatch", "drivers", "sim"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            for node in ast.parse(path.read_text()).body:
                if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                    places[node.name].append(str(path.relative_to(ROOT)))
    assert len(places) > 100, "the walk has found the classes"
    assert {name: where for name, where in places.items() if len(where) > 1} == {}
