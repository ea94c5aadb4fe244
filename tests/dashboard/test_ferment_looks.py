"""What the page of one fermenter draws and says at fixed sizes."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from fermwatch.contracts.feed import Lane
from fermwatch.dashboard.events import MarkStepped, TimeMoved, Zoomed
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.fermenter import Fermenter
from fermwatch.drawing.lines import plain, width
from fermwatch.model.batch import Event, EventKind
from fermwatch.saying.voice import US
from tests.dashboard.expected_text import Expected
from tests.dashboard.ferments import DAY, after, answers, known_of, lane_with_a_story, regulated_lane, text
from tests.dashboard.snapshots import empty, healthy, hot, in_package, many, stalled

LEFT = Fermenter("left")
SIZES = [(80, 24), (120, 40), (200, 60), (40, 12)]


def by_hand_alone() -> Lane:
    return replace(lane_with_a_story(), probes=(), beer_curve=(), gravity_curve=(), judgement=None)


@pytest.mark.parametrize(("columns", "rows"), SIZES)
def test_the_whole_ferment_at_every_size(expected: Expected, columns: int, rows: int) -> None:
    expected.check(f"ferment_{columns}x{rows}", text(LEFT, known_of(), columns, rows))


@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (120, 40)])
def test_what_it_was_set_to_what_the_plan_wants_and_what_was_switched(
    expected: Expected, columns: int, rows: int
) -> None:
    shown = text(LEFT, known_of(regulated_lane()), columns, rows)
    assert {"·", "╍", "▃", "R"} <= set(shown)
    expected.check(f"ferment_regulated_{columns}x{rows}", shown)


def test_the_same_in_ascii(expected: Expected) -> None:
    shown = text(LEFT, known_of(regulated_lane(), typed=True), 80, 24)
    assert shown.isascii()
    expected.check("ferment_regulated_ascii", shown)


def test_the_cursor_reads_what_it_was_set_to_and_what_the_plan_will_want() -> None:
    known = answers(LEFT, known_of(regulated_lane()))
    said = " ".join(text(after(LEFT, known, TimeMoved(-6)), known, 120, 24).split())
    assert "set to 20.0 °C · " in said or ", cooled" in said
    assert "cooled" in said
    assert "by the plan" in " ".join(text(after(LEFT, known, TimeMoved(12)), known, 120, 24).split())


def test_a_probe_known_to_be_off_is_drawn_as_the_beer_and_meets_its_forecast() -> None:
    lane = lane_with_a_story()
    assert lane.judgement is not None
    assert lane.judgement.trend is not None
    said = "the probe reads 12 points higher than the hydrometer says"
    off = replace(lane.judgement.trend, probe_offset_points=12.0, measured_sg=1.036, measured_by="probe", remark=said)
    known = known_of(replace(lane, judgement=replace(lane.judgement, trend=off)))
    shown = text(LEFT, known, 80, 24, gravity=lambda _: 1.036)
    assert f"{said}, the chart shows it 12 points lower than the probe says" in " ".join(shown.split())
    page = after(LEFT, answers(LEFT, known, gravity=lambda _: 1.036), TimeMoved(-3))
    assert "gravity 1.024" in text(page, known, 80, 24, gravity=lambda _: 1.036)


def test_an_offset_that_does_not_explain_what_the_probe_says_is_not_drawn() -> None:
    lane = lane_with_a_story()
    assert lane.judgement is not None
    assert lane.judgement.trend is not None
    trend = replace(
        lane.judgement.trend, probe_offset_points=2.0, measured_sg=1.036, measured_by="probe", remark="the probe is off"
    )
    known = known_of(replace(lane, judgement=replace(lane.judgement, trend=trend)))
    page = after(LEFT, answers(LEFT, known, gravity=lambda _: 1.036), TimeMoved(-3))
    assert "gravity 1.036" in text(page, known, 80, 24, gravity=lambda _: 1.036)


def test_in_ascii(expected: Expected) -> None:
    shown = text(LEFT, known_of(typed=True), 80, 24)
    assert shown.isascii()
    expected.check("ferment_ascii", shown)


def test_in_us_units_with_the_cursor_in_what_is_to_come(expected: Expected) -> None:
    known = answers(LEFT, known_of(units=US))
    shown = text(after(LEFT, known, TimeMoved(20)), known, 80, 24)
    assert "°C" not in shown
    expected.check("ferment_us", shown)


def test_a_beer_that_was_hot_says_since_when_what_was_done_and_what_came_of_it(expected: Expected) -> None:
    known = answers(LEFT, known_of())
    page = LEFT
    for _ in range(12):
        page = after(page, known, MarkStepped(-1))
        if "Above the yeast's range" in (shown := text(page, known, 80, 24)):
            break
    said = " ".join(shown.split())
    assert "from Sun 11:01 until yesterday 06:53, for 20 h; warmest 23.7 °C" in said
    assert "moved to the cellar floor, wet towel round it, Sun 23:38: 1.9 °C cooler 6 h later." in said
    expected.check("ferment_hot_mark", shown)
    closer = after(page, known, Zoomed(1), Zoomed(1))
    expected.check("ferment_hot_mark_closer", text(closer, answers(closer, known), 80, 24))


def test_without_any_probe_there_are_marks(expected: Expected) -> None:
    expected.check("ferment_by_hand", text(LEFT, known_of(by_hand_alone()), 80, 24, beer=None, gravity=None))


def test_an_empty_fermenter_says_the_next_step(expected: Expected) -> None:
    shown = text(LEFT, known_of(empty()), 80, 24, gravity=None)
    assert "open one with `fermwatch batch open`" in shown
    expected.check("ferment_empty", shown)


def test_what_was_bottled_out_of_it_before_it_was_safe_is_said_with_what_to_do() -> None:
    early = in_package("Wort", 3.0, declared_safe=False, left_points=36.0, chance_over_limit=0.99)
    known = known_of(empty())
    assert known.snapshot is not None
    early = replace(early, batch=replace(early.batch, vessel="left"))
    known = replace(known, snapshot=replace(known.snapshot, in_package=(early,)))
    said = " ".join(text(LEFT, known, 80, 40, gravity=None).split())
    assert "Wort was bottled before it was declared safe: bottles that are too full burst, and glass flies." in said
    assert "about 36 points might still ferment; chance that a bottle exceeds its limit: 99 %" in said
    assert "goggles, thick gloves" in said
    assert said.index("goggles") < said.index("Out of it: Wort")


def test_the_ferment_of_a_beer_that_left_can_still_be_looked_at_and_stepped_through(expected: Expected) -> None:
    beer = in_package("Porch Porter", 6.0)
    beer = replace(beer, batch=replace(beer.batch, vessel="left"))
    known = known_of(empty())
    assert known.snapshot is not None
    known = replace(known, snapshot=replace(known.snapshot, in_package=(beer,)))
    shown = text(LEFT, known, 80, 24)
    expected.check("ferment_of_a_packaged_beer", shown)
    assert "empty · Porch Porter was in it, packaged" in shown
    measured = after(LEFT, answers(LEFT, known), MarkStepped(-1))
    assert measured.stretch.at is not None
    assert measured.stretch.at < beer.packaging.at


@pytest.mark.parametrize("lane", [lane_with_a_story(), hot(), stalled(), empty(), by_hand_alone()])
@pytest.mark.parametrize(("columns", "rows"), [*SIZES, (20, 5), (33, 9), (8, 3)])
@pytest.mark.parametrize("heard", [True, False])
def test_no_lane_and_no_size_breaks_it(lane: Lane, columns: int, rows: int, heard: bool) -> None:
    known, page = known_of(lane), Fermenter(lane.vessel.slug)
    if heard:
        known = answers(page, known)
    for event in (Zoomed(1), MarkStepped(-1), TimeMoved(-30), Zoomed(1), TimeMoved(70), Zoomed(-1), MarkStepped(1)):
        page = after(page, known, event)
        drawn = page.draw(known, columns, rows)
        assert max(width(line) for line in drawn.lines) <= columns


@pytest.mark.parametrize(("columns", "rows"), SIZES[:3])
@pytest.mark.parametrize("lane", [lane_with_a_story(), hot(), stalled(), by_hand_alone()])
def test_from_80x24_on_all_of_it_stands_on_one_screen(lane: Lane, columns: int, rows: int) -> None:
    page = Fermenter(lane.vessel.slug)
    known = answers(page, known_of(lane))
    assert len(page.draw(known, columns - 1, rows).lines) == rows - 1


def test_a_declared_crash_moves_the_range_from_when_it_was_declared() -> None:
    lane = lane_with_a_story()
    assert lane.batch is not None
    crash = Event("c", lane.batch.pitched_at + 3.9 * DAY, EventKind.CRASH, {"target_c": 2.0})
    rows = text(LEFT, known_of(replace(lane, events=(*lane.events, crash))), 80, 24).splitlines()
    coldest = next(row for row in rows if row.startswith("        1 "))  # a degree below the crash's target
    declared_in = coldest.index("┄") - 10
    assert 26 < declared_in < 36  # of 70 columns for eight days: on the fourth, and not before
    assert "R" in next(row for row in rows if "marks" in row)[declared_in + 8 : declared_in + 12]


def test_hours_are_right_in_the_night_that_clocks_go_back() -> None:
    """Norway, 25 October 2026: 03:00 CEST is 02:00 CET (tz database), so that the night has an hour more."""
    at = datetime(2026, 10, 25, 3, tzinfo=UTC)
    lane = healthy()
    assert lane.batch is not None
    lane = replace(lane, batch=replace(lane.batch, pitched_at=at - DAY), judgement=None)
    known = known_of(lane)
    assert known.snapshot is not None
    known = Known(snapshot=replace(known.snapshot, now=at, wall_now=at))
    page = after(LEFT, known, Zoomed(9))
    shown = text(page, known, 80, 24)
    axis = next(line for line in reversed(shown.splitlines()) if line.startswith("          ") and "┄" in line)
    labels = [label for label in axis.replace("┄", " ").split() if ":" in label]
    assert labels == ["00:00", "01:00", "02:00", "02:00", "03:00", "04:00"]
    window = page.stretch.window(known.lanes[0], at)
    assert window.length == timedelta(hours=6)


def test_the_curves_of_one_beer_are_never_drawn_for_another() -> None:
    known = Known(snapshot=many(6))
    known = answers(Fermenter("f1"), known, beer=lambda _: 31.0)
    assert "°C 31.1" in _drawn(Fermenter("f1"), known)
    assert "31" not in _drawn(Fermenter("f4"), known).partition("phase")[0]


def _drawn(page: Fermenter, known: Known) -> str:
    return "\n".join(plain(line) for line in page.draw(known, 79, 24).lines)
