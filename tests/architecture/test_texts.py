"""What must never stand in the project's files."""

import re
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
REGISTRY = re.compile(r"https?://[^ ]*/simple/|--(extra-)?index-url")
MACHINE = re.compile(r"(?<![\w.])/(w[o]rk|f[a]rm)/|/t[m]p/bash")


def tracked() -> list[Path]:
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True).stdout
    names = [name for name in listed.decode().split("\0") if name]
    return [ROOT / name for name in names if (ROOT / name).is_file() and Path(name) != Path(__file__).relative_to(ROOT)]


def offending(pattern: re.Pattern[str]) -> list[str]:
    found = []
    for path in tracked():
        text = path.read_text(encoding="utf-8", errors="replace")
        found += [f"{path.relative_to(ROOT)}: {match.group()}" for match in pattern.finditer(text)]
    return found


def test_no_registry_address() -> None:
    assert offending(REGISTRY) == []


def test_no_path_of_a_machine() -> None:
    assert offending(MACHINE) == []


def test_every_requirement_is_pinned_with_a_hash() -> None:
    for name in ("requirements.txt", "requirements-dev.txt"):
        text = (ROOT / name).read_text(encoding="utf-8").replace("\\\n", " ")
        for line in text.splitlines():
            assert not line.strip() or ("==" in line and "--hash=sha256:" in line), f"{name}: {line}"


def test_modules_stay_readable() -> None:
    long = [
        f"{path.relative_to(ROOT)}: {lines} lines"
        for path in tracked()
        if path.suffix == ".py" and (lines := len(path.read_text(encoding="utf-8").splitlines())) > 400
    ]
    # The grader of replays is kept as one file, as it was handed over.
    assert [one for one in long if not one.startswith("tests/reference/judgement/score.py")] == []
