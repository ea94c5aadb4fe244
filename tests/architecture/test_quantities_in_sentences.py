"""No sentence says a quantity in one fixed unit: it is marked (model/amounts.py) and said in the reader's own."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
# Where units are what it is about: the marks themselves, the reader's voice, what is typed, and what devices say.
ABOUT_UNITS = {
    "fermwatch/model/amounts.py",
    "fermwatch/model/quantity.py",
    "fermwatch/saying/voice.py",
    "fermwatch/commands/amounts.py",
    "fermwatch/commands/units.py",
    "fermwatch/desk/adding_up.py",  # an option to be typed, whose unit is typed with it
    "fermwatch/units.py",
    "fermwatch/commands/calculations/gravity.py",
    "fermwatch/replaying/input.py",
    "fermwatch/replaying/log_story.py",
}
# Reckoning shows gravity on every scale at once, and says which; formulas know nobody, and name their own domain.
EVERY_SCALE = ("fermwatch/commands/calculations/", "fermwatch/commands/measurements/", "fermwatch/desk/correcting.py")
FORMULAS = "fermwatch/science/"
FIXED = re.compile(r"^ ?(°[CFP]\b|°Bx|SG\b|points?\b|bar\b|psi\b|L\b|l\b|gal\b)")
ANY_DEGREES = re.compile(r"^ ?°[CF]\b")
DEGREES = re.compile(r"\d ?°[CF]\b")
HELP = {"help", "description", "epilog", "usage", "metavar", "unit"}


def name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def modules() -> list[Path]:
    every = sorted((ROOT / "fermwatch").rglob("*.py"))
    return [path for path in every if name(path) not in ABOUT_UNITS and not name(path).startswith(FORMULAS)]


def fixed_units(tree: ast.AST, fixed: re.Pattern[str]) -> Iterator[tuple[int, str]]:
    """Numbers followed by a unit in an f-string, and degrees in any other string that is no help text."""
    skipped: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            skipped |= {id(part) for one in node.keywords if one.arg in HELP for part in ast.walk(one.value)}
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            skipped |= {id(one.value) for one in node.body if isinstance(one, ast.Expr)}
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        if isinstance(node, ast.JoinedStr):
            for before, part in zip(node.values, node.values[1:], strict=False):
                said = str(part.value) if isinstance(part, ast.Constant) else ""
                if isinstance(before, ast.FormattedValue) and fixed.match(said):
                    yield node.lineno, said
            if fixed is FIXED:
                yield from ((node.lineno, ast.unparse(one)) for one in node.values if _is_bare_gravity(one))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and DEGREES.search(node.value):
            yield node.lineno, node.value


def _is_bare_gravity(part: ast.expr) -> bool:
    """Three decimals are a specific gravity's."""
    return isinstance(part, ast.FormattedValue) and ".3f" in ast.unparse(part.format_spec or ast.Constant(""))


@pytest.mark.parametrize("path", modules(), ids=name)
def test_no_sentence_has_a_fixed_unit(path: Path) -> None:
    fixed = ANY_DEGREES if name(path).startswith(EVERY_SCALE) else FIXED
    assert not list(fixed_units(ast.parse(path.read_text(encoding="utf-8")), fixed))
