"""What the overview says and draws at fixed sizes."""

import pytest

from fermwatch.contracts.feed import Snapshot
from fermwatch.presentation.ink import plain, width
from fermwatch.presentation.page import Sheet, overview
from fermwatch.presentation.voice import Units
from tests.dashboard.expected_text import Expected
from tests.dashboard.snapshots import many, snapshot

SIZES = [(80, 24), (120, 40), (200, 60), (40, 12)]


def text(shown: Snapshot, sheet: Sheet, selected: int = 0) -> str:
    return "".join(f"{plain(line)}\n" for line in overview(shown, sheet, selected).lines)


@pytest.mark.parametrize(("columns", "rows"), SIZES)
def test_three_stories_at_every_size(expected: Expected, columns: int, rows: int) -> None:
    expected.check(f"overview_{columns}x{rows}", text(snapshot(), Sheet(columns, rows - 1)))


def test_without_any_judgement_it_says_what_is_missing(expected: Expected) -> None:
    expected.check("overview_not_judged", text(snapshot(judged=False), Sheet(80, 23)))


def test_in_ascii(expected: Expected) -> None:
    shown = text(snapshot(), Sheet(80, 23, ascii=True))
    assert shown.isascii()
    expected.check("overview_ascii", shown)


def test_in_fahrenheit_and_plato(expected: Expected) -> None:
    expected.check(
        "overview_fahrenheit_plato", text(snapshot(), Sheet(80, 23, units=Units(fahrenheit=True, plato=True)))
    )


@pytest.mark.parametrize("fermenters", [8, 14])
def test_lanes_shrink_as_fermenters_grow(expected: Expected, fermenters: int) -> None:
    expected.check(f"overview_{fermenters}_fermenters", text(many(fermenters), Sheet(80, 23)))


@pytest.mark.parametrize(("columns", "rows"), SIZES)
@pytest.mark.parametrize("fermenters", [1, 2, 3, 5, 9, 30])
def test_a_page_is_as_high_as_its_sheet_and_never_wider(columns: int, rows: int, fermenters: int) -> None:
    for selected in (0, fermenters - 1):
        page = overview(many(fermenters), Sheet(columns, rows), selected)
        assert len(page.lines) == len(page.owners) == rows
        assert max(width(line) for line in page.lines) <= columns
        assert selected in page.owners


@pytest.mark.parametrize("rows", range(1, 16))
@pytest.mark.parametrize("columns", [1, 5, 12, 20, 33])
def test_no_sheet_is_too_small(columns: int, rows: int) -> None:
    assert len(overview(snapshot(), Sheet(columns, rows), 0).lines) == rows


def test_eighty_by_twentyfour_tells_three_whole_stories() -> None:
    shown = text(snapshot(), Sheet(80, 23))
    for word in (
        "Left",
        "Middle",
        "Right",
        "24.6 °C",
        "15.8 °C",
        "Stalled",
        "since today 16:40",
        "since yesterday 15:14",
    ):
        assert word in shown
    for word in (
        "done in about 3 days",
        "do not bottle yet",
        "Cool it",
        "Warm it",
        "all 4 probes live",
        "air stale 25 min",
    ):
        assert word in shown
    assert "pressure never heard" in shown
