"""What the overview says and draws at fixed sizes."""

from dataclasses import replace

import pytest

from fermwatch.brewing import too_early
from fermwatch.contracts.feed import InPackage, Snapshot
from fermwatch.contracts.store import ControllerStatus
from fermwatch.drawing import packages
from fermwatch.drawing.lines import plain, width
from fermwatch.drawing.page import Sheet, overview
from fermwatch.model.degree import Degree, Output
from fermwatch.model.finding import Alarm, Condition
from fermwatch.saying.voice import Units
from tests.dashboard.expected_text import Expected
from tests.dashboard.snapshots import NOW, healthy, hot, in_package, many, snapshot

SIZES = [(80, 24), (120, 40), (200, 60), (40, 12)]


def text(shown: Snapshot, sheet: Sheet, selected: int = 0) -> str:
    return "".join(f"{plain(line)}\n" for line in overview(shown, sheet, selected).lines)


@pytest.mark.parametrize(("columns", "rows"), SIZES)
def test_three_stories_at_every_size(expected: Expected, columns: int, rows: int) -> None:
    expected.check(f"overview_{columns}x{rows}", text(snapshot(), Sheet(columns, rows - 1)))


@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (120, 40)])
def test_what_a_controller_does_stands_on_the_rule_of_its_lane(expected: Expected, columns: int, rows: int) -> None:
    fridge = ControllerStatus("fridge", "left", Degree.SET, 19.0, 19.0, (Output.COOL,), NOW)
    belt = ControllerStatus(
        "belt", "middle", Degree.DRIVE, 18.0, None, (), NOW, trouble="Heat had no effect for 45 min."
    )
    lanes = (replace(healthy(), controllers=(fridge,)), replace(hot(), controllers=(belt,)))
    expected.check(f"overview_controllers_{columns}x{rows}", text(snapshot(*lanes), Sheet(columns, rows - 1)))


@pytest.mark.parametrize("columns", [70, 80, 100, 120, 160, 200])
def test_a_verdict_has_one_casing_however_much_of_it_there_is_room_for(columns: int) -> None:
    """From refresh to refresh it was "not ready to bottle" and "Not ready to bottle: it is still fermenting"."""
    lane = healthy()
    assert lane.judgement is not None
    assert lane.judgement.verdict is not None
    verdict = replace(lane.judgement.verdict, sentence="Not ready to bottle: it is still fermenting.")
    shown = text(snapshot(replace(lane, judgement=replace(lane.judgement, verdict=verdict))), Sheet(columns, 40))
    assert "not ready to bottle" in shown
    assert "Not ready" not in shown


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


def with_packaged(count: int, *, asking: int = 0) -> Snapshot:
    beers = tuple(in_package(f"Brew {number}", 3.0 + number, asks=number < asking) for number in range(count))
    alarms = tuple(alarm for beer in beers for alarm in beer.alarms)
    shown = snapshot(healthy())
    return replace(shown, in_package=beers, alarms=(*shown.alarms, *alarms))


def test_packaged_beers_stand_on_their_own(expected: Expected) -> None:
    keg = in_package("Stout", 2.0, package="keg", way="forced", sugar_g_per_l=0.0, storage_c=5.0)
    shown = with_packaged(2, asking=1)
    expected.check("overview_packaged", text(replace(shown, in_package=(*shown.in_package, keg)), Sheet(100, 40)))


@pytest.mark.parametrize(("columns", "rows"), [*SIZES, (40, 9)])
@pytest.mark.parametrize("count", [1, 3, 12])
def test_however_many_there_are_the_lanes_keep_their_room(columns: int, rows: int, count: int) -> None:
    shown = with_packaged(count, asking=2)
    page = overview(shown, Sheet(columns, rows), 0)
    assert len(page.lines) == len(page.owners) == rows
    assert max(width(line) for line in page.lines) <= columns
    if rows >= 12:
        told = text(shown, Sheet(columns, rows))
        assert 0 in page.owners
        assert "Brew 0" in told or f"{count} packaged beer" in told


def test_what_is_left_out_is_counted() -> None:
    assert "7 more: down, then enter" in text(with_packaged(12), Sheet(100, 40))
    assert "12 packaged beers: down, then enter" in text(with_packaged(12), Sheet(100, 11))


def test_eighty_by_twentyfour_tells_three_whole_stories() -> None:
    shown = text(snapshot(), Sheet(80, 23))
    for word in (
        "Left",
        "Middle",
        "Right",
        "24.6 °C",
        "15.8 °C",
        "stalled",
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


def test_what_was_bottled_before_it_was_safe_is_said_beside_its_name() -> None:
    early = in_package("Wort", 3.0, declared_safe=False, left_points=36.0, chance_over_limit=0.99)
    shown = text(replace(snapshot(healthy()), in_package=(early,)), Sheet(80, 24))
    assert "Wort · may burst · day 3" in shown


def test_the_page_of_packaged_beers_cuts_no_caution() -> None:
    """It ended with "A PET b…" at 80 columns, over empty rows."""
    early = in_package("Wort", 3.0, declared_safe=False, left_points=36.0, chance_over_limit=0.99)
    for one in (early, replace(early, alarms=(early_alarm(early),))):
        drawn = packages.draw(replace(snapshot(healthy()), in_package=(one,)), Sheet(80, 24))
        told = " ".join(" ".join("".join(span.text for span in line) for line in drawn.lines).split())
        assert "or opened --gushed. If in doubt, leave the room." in told
        assert "…" not in told


def early_alarm(beer: InPackage) -> Alarm:
    return Alarm(
        too_early.RULE,
        f"batch:{beer.batch.id}",
        Condition.RAISED,
        raised_at=NOW,
        occurrence=1,
        remedy=too_early.remedy(beer.conditioning, beer.batch.name),
    )


@pytest.mark.parametrize("columns", range(66, 140, 3))
@pytest.mark.parametrize("rows", [23, 30, 39, 50])
def test_no_lane_says_twice_when_it_will_be_done(columns: int, rows: int) -> None:
    lane = healthy()
    assert lane.judgement is not None
    assert lane.judgement.phase is not None
    phase = replace(lane.judgement.phase, reason="it was moved, and stood cold for a night")
    lane = replace(lane, judgement=replace(lane.judgement, phase=phase))
    assert text(snapshot(lane), Sheet(columns, rows)).count("done in about") <= 1


def test_what_to_do_stands_whole_or_in_whole_clauses_on_eighty_columns() -> None:
    shown = text(snapshot(), Sheet(80, 23))
    assert "Warm it to 19 °C and rouse the yeast; do not bottle." in shown
    assert "Cool it by 3 °C within the day" in shown
    assert "…" not in shown


def test_lines_that_would_stand_blank_tell_alarms_whole() -> None:
    shown = text(many(8), Sheet(80, 23))
    assert "check that the fridge" in shown
    assert "Fermenter 1" in text(many(8), Sheet(80, 23), 7)


def test_no_fermenter_is_hidden_while_lines_stand_blank() -> None:
    for count in (3, 6, 9, 12, 18, 25):
        for rows in (12, 18, 23, 39):
            for selected in (0, 1, count - 1):
                lines = text(many(count), Sheet(80, rows), selected).splitlines()
                hidden = any("more: up and down" in line for line in lines)
                blank = sum(not line.strip() for line in lines)
                assert not (hidden and blank > 1), (count, rows, selected)


def test_a_packaged_beer_gives_up_its_day_before_its_next_date_on_eighty_columns() -> None:
    shown = replace(snapshot(healthy()), in_package=(in_package("Slow Stairs Bitter", 4.0),))
    row = next(line for line in text(shown, Sheet(80, 23)).splitlines() if "Slow Stairs" in line)
    assert "squeeze the PET bottle (day 7) on Fri 6 Nov" in row
    assert "…" not in row
