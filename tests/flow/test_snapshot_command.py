"""`fermwatch snapshot`: any page as text or as a picture, without a terminal and without the terminal's library."""

import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from fermwatch.commands.snapshot import PAGES as NAMED
from fermwatch.dashboard.pages.registry import PAGES
from fermwatch.drawing.lines import cells
from tests.flow.test_plan import ALE, NOW
from tests.support.command_line import CommandLine, command_line


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> CommandLine:
    desk = command_line(tmp_path / "store", NOW, capsys)
    desk.done(*ALE)
    desk.hear_steady("left-beer", 17.5)  # calibrated by +0.5
    return desk


def test_every_page_can_be_named() -> None:
    assert set(NAMED) == set(PAGES)


@pytest.mark.parametrize("page", NAMED)
def test_every_page_is_text_within_its_size(desk: CommandLine, page: str) -> None:
    said = desk.type("snapshot", page, "--size", "80x24")
    assert said.status == 0, said.error
    assert said.text.strip()
    assert max(cells(line) for line in said.text.splitlines()) <= 80


def test_the_fermenter_that_is_named_is_shown(desk: CommandLine) -> None:
    assert "Porch Ale" in desk.type("snapshot", "fermenter", "--fermenter", "LEFT").text
    assert "Porch Ale" not in desk.type("snapshot", "fermenter", "--fermenter", "right").text


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("fermenter", "--fermenter", "cellar"), "There is no fermenter 'cellar'."),
        (("overview", "--size", "9x3"), "'9x3' is no size."),
        (("overview", "--size", "wide"), "'wide' is no size."),
        (("overview", "--svg", "/no/such/place.svg"), "cannot be written"),
    ],
)
def test_what_cannot_be_meant_is_one_sentence(desk: CommandLine, words: tuple[str, ...], said: str) -> None:
    answer = desk.type("snapshot", *words)
    assert answer.status != 0
    assert said in answer.error


@pytest.mark.parametrize("theme", ["dark", "light"])
def test_a_picture_says_the_same_and_names_no_place(desk: CommandLine, tmp_path: Path, theme: str) -> None:
    file = tmp_path / "page.svg"
    assert desk.type("snapshot", "fermenter", "--svg", str(file), "--theme", theme).status == 0
    text = file.read_text(encoding="utf-8")
    drawn = " ".join("".join(ET.fromstring(text).itertext()).split())  # noqa: S314 - made just here
    assert "Porch Ale" in drawn
    assert str(tmp_path) not in text
    assert len(text) < 40_000


def test_it_needs_no_terminal_library(desk: CommandLine) -> None:
    """Also in a picture: nothing of Textual or Rich is loaded."""
    program = (
        "import sys; from fermwatch.cli import main; "
        f"main(['--store', {str(desk.directory)!r}, '--site', 'home', 'snapshot', 'fermenter']); "
        "sys.exit(bool({'textual', 'rich'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", program], capture_output=True, check=False).returncode == 0
