"""The contract of the rooms holds: what has no place in it, or reaches beside or above itself, is refused."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROOMS = "The rooms, from the way in down to the ground"
LINTER = Path(sys.executable).with_name("lint-imports")


@pytest.fixture
def house(tmp_path: Path) -> Path:
    """A copy of the packages and their contracts, which may be spoilt."""
    for package in ("fermwatch", "drivers", "sim"):
        shutil.copytree(ROOT / package, tmp_path / package, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def lint(house: Path) -> subprocess.CompletedProcess[str]:
    path = os.pathsep.join(str(house / part) for part in (".", "drivers", "sim"))
    return subprocess.run(
        [LINTER, "--no-cache"],
        cwd=house,
        env={**os.environ, "PYTHONPATH": path, "COLUMNS": "200"},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def test_the_house_as_it_stands_is_kept(house: Path) -> None:
    done = lint(house)
    assert done.returncode == 0, done.stdout + done.stderr


def test_a_room_without_a_place_is_refused(house: Path) -> None:
    room = house / "fermwatch" / "pantry"
    room.mkdir()
    (room / "__init__.py").write_text('"""What nobody placed."""\n', encoding="utf-8")
    done = lint(house)
    assert done.returncode == 1
    assert f"{ROOMS} BROKEN" in done.stdout
    assert "- fermwatch.pantry" in done.stdout


@pytest.mark.parametrize(
    ("file", "line", "contract"),
    [
        ("fermwatch/rules/gravity.py", "import fermwatch.judgement.judge", ROOMS),
        ("fermwatch/model/yeast.py", "import fermwatch.science.yeasts", ROOMS),
        ("fermwatch/store/rows.py", "import fermwatch.watching.watcher", ROOMS),
        ("fermwatch/saying/words.py", "import rich", "Only the dashboard knows Textual"),
        ("fermwatch/feed/picture.py", "import sqlite3", "Only a backend's own folder knows its database"),
        ("fermwatch/alarms/life.py", "import asyncio", "Deciding, saying and drawing are pure"),
        ("sim/fermwatch_sim/cellar.py", "import fermwatch.judgement.judge", "Drivers and the simulator see the ground"),
    ],
)
def test_what_reaches_beside_or_above_itself_is_refused(house: Path, file: str, line: str, contract: str) -> None:
    spoilt = house / file
    spoilt.write_text(f"{spoilt.read_text(encoding='utf-8')}\n{line}\n", encoding="utf-8")
    done = lint(house)
    said = re.search(rf"{re.escape(contract)}.*?(KEPT|BROKEN)", " ".join(done.stdout.split()))
    assert done.returncode == 1
    assert said
    assert said[1] == "BROKEN"
