"""The map in DEVELOPERS.md and the folders agree, both ways."""

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def rooms() -> set[str]:
    """Every folder of fermwatch/ that holds Python, and every module beside them."""
    package = ROOT / "fermwatch"
    folders = {f"{path.name}/" for path in package.iterdir() if path.is_dir() and any(path.glob("*.py"))}
    return folders | {path.name for path in package.glob("*.py") if path.name != "__init__.py"}


def on_the_map() -> set[str]:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    start = text.index("```text\nfermwatch/")
    block = text[start : text.index("```", start + 3)]
    return set(re.findall(r"^  ([a-z_]+(?:\.py|/))", block, flags=re.MULTILINE))


def test_every_room_is_on_the_map() -> None:
    assert rooms() - on_the_map() == set()


def test_the_map_names_no_room_that_is_gone() -> None:
    assert on_the_map() - rooms() == set()
