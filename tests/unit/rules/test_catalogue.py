"""The README says when each rule speaks, and names no rule that is none."""

import re
from pathlib import Path

from fermwatch.model.rule_settings import DEFAULTS
from fermwatch.rules.catalogue import rules

README = Path(__file__).resolve().parents[3] / "README.md"


def test_the_readme_says_when_each_rule_speaks() -> None:
    section = README.read_text(encoding="utf-8").split("## When it speaks")[1].split("\n## ")[0]
    first_cells = [line.split("|")[1] for line in section.splitlines() if line.startswith("| `")]
    named = [name for cell in first_cells for name in re.findall(r"`([a-z-]+)`", cell)]
    assert sorted(named) == sorted(rules(DEFAULTS))
