"""What the page of a fermenter's temperature says: whether it manages, the plan, and what to set by hand."""

from dataclasses import replace
from datetime import timedelta

import pytest

from fermwatch.contracts.feed import CurvesQuery, JournalAnswer, JournalQuery, Lane
from fermwatch.contracts.store import ControllerStatus, JournalEntry
from fermwatch.dashboard.events import CursorMoved
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.regulating import Regulating
from fermwatch.drawing.lines import plain, width
from fermwatch.model.amounts import temperature
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.degree import Degree
from fermwatch.model.plan import PlanProgress, plan_of
from fermwatch.saying.regulating import regulation
from fermwatch.saying.voice import US, Voice
from tests.dashboard.expected_text import Expected
from tests.dashboard.ferments import DAY, curves_answer, known_of, regulated_lane
from tests.dashboard.snapshots import NOW, empty, healthy, hot

LEFT = Regulating("left")
SIZES = [(80, 24), (120, 40), (200, 60), (40, 12)]


def fridge(**more: object) -> ControllerStatus:
    said = {"at_most": Degree.SET, "low_c": 1.0, "high_c": 24.0, "said_by": "anna", "said_at": NOW - DAY}
    return replace(regulated_lane().controllers[0], **{**said, **more})  # type: ignore[arg-type]


def armed_lane(**more: object) -> Lane:
    return replace(regulated_lane(), controllers=(fridge(**more),))


def planned_by_hand(steps: str = "18C until 90%; 20C for 3 days") -> Lane:
    lane = healthy()
    assert lane.batch is not None
    progress = PlanProgress("", plan_of(steps, "by hand"), 0, lane.batch.pitched_at)
    return replace(lane, events=(Event("p", lane.batch.pitched_at, EventKind.PLAN, progress.data()),))


def answered(page: Regulating, known: Known) -> Known:
    lane = known.lane(page.vessel)
    assert lane is not None
    for query in page.wants(known):
        if isinstance(query, CurvesQuery):
            known = known.with_answer(curves_answer(query, lane))
        if isinstance(query, JournalQuery):
            said = f"the set point {temperature(20.0)} is written, by the plan"
            entries = (JournalEntry(NOW - timedelta(hours=3), "control", "controller:fridge", said),)
            known = known.with_answer(JournalAnswer(query, entries))
    return known


def text(page: Regulating, known: Known, columns: int, rows: int) -> str:
    drawn = page.draw(answered(page, known), columns - 1, rows)
    assert max(width(line) for line in drawn.lines) <= columns - 1
    return "".join(f"{plain(line)}\n" for line in drawn.lines)


def said(lane: Lane, **more: object) -> str:
    found = regulation(lane, NOW, Voice(), **more)  # type: ignore[arg-type]
    return f"{found.headline.mark} {found.headline.text} {found.to_do}".strip()


@pytest.mark.parametrize(("columns", "rows"), SIZES)
def test_a_fridge_that_follows_its_plan(expected: Expected, columns: int, rows: int) -> None:
    expected.check(f"controller_{columns}x{rows}", text(LEFT, known_of(armed_lane()), columns, rows))


def test_in_ascii_and_in_us_units(expected: Expected) -> None:
    typed = text(LEFT, known_of(armed_lane(), typed=True), 80, 24)
    assert typed.isascii()
    expected.check("controller_ascii", typed)
    assert "°C" not in text(LEFT, known_of(armed_lane(), units=US), 80, 24)


def test_a_plan_without_a_controller_says_what_to_set_by_hand_and_when(expected: Expected) -> None:
    expected.check("controller_by_hand", text(LEFT, known_of(planned_by_hand()), 80, 24))
    assert said(planned_by_hand()).startswith("Set the fridge to 18.0 °C by hand. Next 20 °C, about ")
    unknown = planned_by_hand("18C until told; 20C for 3 days")
    assert "Next 20 °C, about today" in said(unknown)


def test_a_fridge_that_stands_as_the_plan_wants_is_not_to_be_set() -> None:
    assert said(planned_by_hand("19C until 90%; 20C for 3 days")).startswith("It stands at 19.0 °C, as the plan wants.")


def test_without_controller_and_plan_there_is_one_next_step(expected: Expected) -> None:
    expected.check("controller_nothing", text(LEFT, known_of(healthy()), 80, 24))


def test_what_is_wrong_comes_first_with_what_to_do(expected: Expected) -> None:
    lane = replace(hot(), controllers=(fridge(vessel="middle", target_c=19.0, set_point_c=19.0),))
    shown = text(Regulating("middle"), known_of(lane), 80, 24)
    rows = shown.splitlines()
    assert rows[2].lstrip().startswith("!! Beer 24.6 °C is 3.6 °C above the yeast's range")
    assert "Cool it by 3 °C within the day" in " ".join(shown.split())
    expected.check("controller_hot", shown)


def test_what_somebody_has_seen_is_still_true_here() -> None:
    lane = hot()
    seen = replace(lane.alarms[0], acknowledged_at=NOW, acknowledged_by="anna")
    assert said(replace(lane, alarms=(seen,))).startswith("!! Beer 24.6 °C")


@pytest.mark.parametrize(
    ("lane", "wanted"),
    [
        (armed_lane(target_c=19.0, set_point_c=19.0), "It holds the beer at 19.0 °C."),
        (armed_lane(target_c=20.0, set_point_c=20.0), "The beer is 0.8 °C below 20.0 °C, and comes no nearer."),
        (
            armed_lane(at=NOW - timedelta(hours=1)),
            "! fridge was not seen since today 19:14: what it does is not known.",
        ),
        (armed_lane(at=None), "! fridge was not seen yet: what it does is not known."),
        (armed_lane(target_c=None, set_point_c=None), "The set point is not known: nobody can say whether it manages."),
        (replace(armed_lane(), probes=()), "The beer is not heard: nobody can say whether it holds 20.0 °C."),
        (empty(), "No beer is in it: there is nothing to regulate."),
    ],
)
def test_whether_it_manages(lane: Lane, wanted: str) -> None:
    assert said(lane).startswith(wanted)


def test_a_beer_on_its_way_is_told_by_when_it_is_there() -> None:
    lane = armed_lane(target_c=17.0, set_point_c=17.0)
    falling = tuple(replace(one, mean=19.2 + (NOW - one.at) / timedelta(hours=1) * 0.5) for one in lane.beer_curve)
    assert (
        said(replace(lane, beer_curve=falling)) == "The beer is 2.2 °C above 17.0 °C, on its way: there in about 4 h."
    )


@pytest.mark.parametrize(
    ("status", "wanted"),
    [
        (fridge(), "fridge: fermwatch sets its set point by the plan, within 1–24 °C. Armed by anna, yesterday 20:14."),
        (fridge(degree=Degree.DRIVE), "fridge: fermwatch switches its outputs by the plan, within 1–24 °C."),
        (
            fridge(degree=Degree.OBSERVE),
            "fridge is only read, by anna, yesterday 20:14. fermwatch controller arm fridge",
        ),
        (fridge(degree=Degree.OBSERVE, at_most=Degree.OBSERVE, said_at=None), "fridge is only read: the configuration"),
    ],
)
def test_by_whose_word_and_how_far(status: ControllerStatus, wanted: str) -> None:
    found = regulation(armed_lane(), NOW, Voice())
    assert len(found.by) == 1
    assert regulation(replace(armed_lane(), controllers=(status,)), NOW, Voice()).by[0].startswith(wanted)


def test_j_and_k_go_to_the_fermenter_beside() -> None:
    known = known_of(armed_lane(), hot())
    assert LEFT.absorb(CursorMoved(1), known) == Regulating("middle")


@pytest.mark.parametrize("lane", [armed_lane(), planned_by_hand(), healthy(), hot(), empty()])
@pytest.mark.parametrize(("columns", "rows"), [*SIZES, (20, 5), (8, 3)])
def test_no_lane_and_no_size_breaks_it(lane: Lane, columns: int, rows: int) -> None:
    page, known = Regulating(lane.vessel.slug), known_of(lane)
    for shown in (known, answered(page, known)):
        assert max(width(line) for line in page.draw(shown, columns, rows).lines) <= columns
