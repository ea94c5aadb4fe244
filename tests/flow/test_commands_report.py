"""`fermwatch report`: a whole ferment on one page that nothing outside can reach, and that runs nothing."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from tests.support.command_line import CommandLine
from tests.support.told_ferment import HARM, day_of, ferment

OUTSIDE = re.compile(r"https?://(?!www\.w3\.org/2000/svg)|@import|url\(|javascript:", re.IGNORECASE)
DAY = "%Y-%m-%dT%H:%M:%SZ"


class Page(HTMLParser):
    """What a browser would make of it: elements with their attributes, and what is read."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.parts: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.parts.append(data)

    @property
    def read(self) -> str:
        return " ".join(" ".join(self.parts).split())


def page_of(desk: CommandLine, *words: str) -> Page:
    said = desk.type("report", *words)
    assert said.status == 0, said.error
    return Page(said.text)


def bottled(directory: Path, capture: pytest.CaptureFixture[str], *, crashed: bool) -> CommandLine:
    desk = ferment(directory, capture, days=30, crashed=crashed)
    with desk.watched():
        pass
    although = ["--although-not-safe"] if crashed else []
    words = ("--sugar", "dextrose", "--at", f"{day_of(13):{DAY}}", "--yes", *although)
    said = desk.type("batch", "package", "left", *words)
    assert said.status == 0, said.error
    with desk.watched():
        pass
    return desk


def test_a_beer_in_its_bottles_is_told_from_the_pitch_to_the_label(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    desk = bottled(tmp_path, capsys, crashed=False)
    page = page_of(desk, "Harvest Ale")
    for told in (
        "pitched 1 Mar 2026 · packaged 14 Mar 2026",
        "final gravity 1.012 hydrometer",
        "attenuation 78%",
        "alcohol 5.4 %",
        "Pitched at 1.052, 18 L, clean ale.",
        "Above the yeast's range 17–22 °C",
        "cooled by wet towels",
        "Dry-hop 60 g",
        "22 h once 3 Mar 2026 05:06 too warm, critical: beer 22.9 °C",
        "5 h once 7 Mar 2026 19:30 probe silent, warning: nothing heard",
        "It ended at 1.012 by hydrometer; its probe was within a point of its last from 5 Mar 2026",
        "3 of 3 held",
        "On the day it was packaged: safe to bottle.",
        "Returnable glass bottle, 2.4 volumes, on 14 Mar 2026, 6.74 g/L of sugar",
        "bottled 14 Mar 2026 · open from 28 Mar 2026",
        "store below 25 °C",
        "A bottle that is too full of CO2 can burst.",
    ):
        assert told in page.read, told
    assert "of another beer" not in page.read
    assert "CO2 from a cylinder" not in page.read
    assert "licensed electrician" not in page.read


def test_one_that_may_burst_says_so_and_has_no_dates(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = page_of(bottled(tmp_path, capsys, crashed=True), "Harvest Ale")
    assert "MAY BURST: keep it cold" in page.read
    assert page.read.index("was bottled before it was declared safe") < page.read.index("What happened")
    assert "goggles, thick gloves and your face turned away" in page.read
    assert "open from 28 Mar" not in page.read
    assert "store below" not in page.read


def test_while_it_ferments_it_is_told_so_far_and_in_the_readers_units(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    desk = ferment(tmp_path, capsys, days=4.5)
    with desk.watched():
        pass
    page = page_of(desk, "left", "--units", "us plato")
    assert "original gravity 12.9 °P" in page.read
    assert "gravity now 3.4 °P" in page.read
    assert "beer, °F" in page.read
    assert "nothing can be compared" in page.read
    assert "day 2 3.1 °P (2.4–3.8 °P)" in page.read
    assert "In the package" not in page.read
    assert "Fermenting beer gives off CO2" in page.read


def test_it_refers_to_nothing_outside_and_runs_nothing_whatever_it_is_called(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    desk = ferment(tmp_path, capsys, name=HARM, days=14)
    said = desk.type("report", "left")
    assert said.text.isascii()
    assert not OUTSIDE.search(said.text)
    page = Page(said.text)
    assert HARM in page.read, "as it was written, and as text"
    assert not {"script", "img", "link", "iframe", "object", "embed", "a", "form", "base"} & set(page.tags)
    names = {name for name, _ in page.attributes}
    assert not {name for name in names if name.startswith("on") or name in {"href", "src", "style", "xlink:href"}}
    policy = dict(page.attributes)["content"] if "content" in names else ""
    assert ("content", "default-src 'none'; style-src 'unsafe-inline'") in page.attributes, policy


def test_a_beer_of_which_nothing_is_known_has_a_page_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    desk = ferment(tmp_path, capsys, days=0.01)
    page = page_of(desk, "left")
    assert "original gravity 1.052" in page.read
    assert "Pitched at 1.052" in page.read
    assert "in hindsight" not in page.read


def test_every_mark_in_the_picture_is_told_in_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = page_of(ferment(tmp_path, capsys, days=14), "left")
    numbered = re.findall(r"(?<!\S)([PMARNOFE]\d+)(?!\S)", page.read)
    told, drawn = set(numbered), {one for one in numbered if numbered.count(one) == 2}
    assert [int(one[1:]) for one in sorted(told, key=lambda one: int(one[1:]))] == list(range(1, len(told) + 1))
    assert len(drawn) >= len(told) - 1 > 8, "where marks crowd, one may have a line alone"


def test_an_earlier_page_is_written_over_only_where_that_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    desk, page = ferment(tmp_path / "store", capsys, days=1), tmp_path / "ale.html"
    assert desk.type("report", "left", str(page)).status == 0
    whole = page.read_text(encoding="ascii")
    page.write_text("mine")
    refused = desk.type("report", "left", str(page))
    assert refused.status == 2
    assert "is there already" in refused.error
    assert page.read_text() == "mine"
    assert desk.type("report", "left", str(page), "--overwrite").status == 0
    assert page.read_text(encoding="ascii") == whole
