"""Screens as text, kept beside the tests, so that a change of looks is read in review."""

import difflib
import os
from pathlib import Path

RECORD = os.environ.get("FERMWATCH_RECORD") == "1"  # read before the tests have an environment of their own


class Expected:
    """FERMWATCH_RECORD=1 writes what is shown instead of comparing it."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def check(self, name: str, shown: str) -> None:
        file = self._folder / f"{name}.txt"
        if RECORD:
            file.write_text(shown, encoding="utf-8")
        wanted = file.read_text(encoding="utf-8")
        difference = "\n".join(
            difflib.unified_diff(wanted.splitlines(), shown.splitlines(), "kept", "shown", lineterm="")
        )
        assert not difference, f"{name} looks different (FERMWATCH_RECORD=1 keeps it):\n{difference}"
