"""Lines as a picture: what is in it stands in its cell, and nothing leads out of it."""

import re
from xml.etree import ElementTree as ET

from hypothesis import given
from hypothesis import strategies as st

from fermwatch.drawing.lines import Span
from fermwatch.drawing.palette import ON_PAPER, ON_SLATE
from fermwatch.drawing.svg import CELL, MARGIN, picture
from fermwatch.saying.ink import Ink

SPACE = "{http://www.w3.org/2000/svg}"


def texts(drawn: str) -> list[ET.Element]:
    return list(ET.fromstring(drawn).iter(f"{SPACE}text"))  # noqa: S314 - made just here


def test_each_span_stands_in_its_column_as_wide_as_its_cells() -> None:
    drawn = picture([(Span("  beer  "), Span("18.4 °C", Ink.CRITICAL))], 40, "a page", ON_SLATE)
    first, second = texts(drawn)
    assert (first.text, first.get("class")) == ("beer", "plain")
    assert float(first.get("x", "")) == round(MARGIN + 2 * CELL, 1)
    assert float(second.get("x", "")) == round(MARGIN + 8 * CELL, 1)
    assert float(second.get("textLength", "")) == round(7 * CELL, 1)
    assert ON_SLATE.error in drawn
    assert ON_PAPER.error not in drawn


def test_nothing_in_it_is_fetched_from_elsewhere() -> None:
    drawn = picture([(Span("x"),)], 40, "a page", ON_PAPER)
    assert re.findall(r"https?://[^\"]+", drawn) == ["http://www.w3.org/2000/svg"]
    assert not {"url(", "href", "script", "@import"} & set(re.findall(r"url\(|href|script|@import", drawn))


@given(st.lists(st.text(max_size=30), max_size=4))
def test_hostile_names_are_text_and_nothing_else(names: list[str]) -> None:
    drawn = picture([(Span(name),) for name in (*names, '</text><script>&"\x1b[2J')], 60, "<title>", ON_SLATE)
    assert {one.tag for one in ET.fromstring(drawn).iter()} == {  # noqa: S314
        f"{SPACE}{tag}" for tag in ("svg", "title", "style", "rect", "text")
    }
    assert "\x1b" not in drawn
