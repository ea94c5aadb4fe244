"""What a rule, a verdict or a screen suggests to type can be typed: it goes through the parser that a person's does."""

import ast
import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest

from fermwatch.cli import COMMANDS, parser_for

ROOT = Path(__file__).resolve().parents[2] / "fermwatch"
ROOMS = ("rules", "judgement", "saying", "drawing", "report", "store", "inbox", "requests", "commands")
FILLED = "left"  # whatever stands in braces: a fermenter, a name, a temperature
QUOTED = rf"`fermwatch ((?:{'|'.join(COMMANDS)})\b[^`]*)`"
BARE = r"(?<![`\w])fermwatch ((?:batch|note|measure|add|bottle|units) .*?)(?=`|[.,;:)]*(?:\s[A-Z(]|$)|\. |, |; )"
SUGGESTED = re.compile(f"{QUOTED}|{BARE}")
FIGURE = re.compile(rf"(?<=--target )({FILLED})C?\b|(?<=--fermenter-volume ){FILLED}")
ONLY_THE_BREWER_KNOWS = ("batch open", "add BATCH")  # a name and an original gravity; a usage, which is no suggestion


def _said(node: ast.AST) -> Iterator[str]:
    """Every whole string in a module, with what stands in braces filled in; docstrings are for other readers."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.JoinedStr):
            yield "".join(str(part.value) if isinstance(part, ast.Constant) else FILLED for part in child.values)
        elif isinstance(child, ast.Constant) and isinstance(child.value, str):
            yield child.value
        elif not (isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant)):
            yield from _said(child)


def suggestions() -> Iterator[tuple[str, str]]:
    for room in ROOMS:
        for path in sorted((ROOT / room).rglob("*.py")):
            for text in _said(ast.parse(path.read_text(encoding="utf-8"))):
                for match in SUGGESTED.finditer(text):
                    if not (match[1] or match[2]).startswith(ONLY_THE_BREWER_KNOWS):
                        yield str(path.relative_to(ROOT)), match[1] or match[2]


FOUND = sorted(set(suggestions()))


def test_there_are_suggestions() -> None:
    assert len(FOUND) > 25
    assert any(where == "judgement/advice.py" for where, _ in FOUND)


def can_be_typed(words: list[str]) -> bool:
    try:
        parser_for(words).parse_args(words)
    except SystemExit as error:
        return error.code == 0
    return True


@pytest.mark.parametrize(("where", "suggested"), FOUND)
def test_what_is_suggested_can_be_typed(where: str, suggested: str) -> None:
    assert can_be_typed(shlex.split(FIGURE.sub("17C", suggested))), f"{where} suggests: fermwatch {suggested}"


def test_what_lacks_its_batch_would_be_found() -> None:
    assert not can_be_typed(["measure"])
    assert not can_be_typed(["batch", "end"])
