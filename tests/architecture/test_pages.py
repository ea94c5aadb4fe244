"""What is written for people hangs together: every page is reached from the README, every link leads somewhere."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "CHANGELOG.md", *sorted((ROOT / "docs").glob("*.md"))]
LINK = re.compile(r"!?\[[^\]]*\]\(([^)#]+)(#[^)]*)?\)", re.DOTALL)


def links(page: Path) -> list[Path]:
    text = re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    return [(page.parent / one[0]).resolve() for one in LINK.findall(text) if "://" not in one[0]]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_leads_somewhere(page: Path) -> None:
    assert [one for one in links(page) if not one.exists()] == []


def test_every_page_is_reached_from_the_readme() -> None:
    assert set((ROOT / "docs").glob("*.md")) <= set(links(ROOT / "README.md"))


def test_the_readme_is_a_page_for_newcomers() -> None:
    assert len((ROOT / "README.md").read_text(encoding="utf-8")) < 12_000
