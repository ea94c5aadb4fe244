"""What each event makes of the dashboard, without a terminal; and that it knows no page but by the registry."""

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import ClassVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.contracts.feed import (
    Curves,
    CurvesAnswer,
    CurvesQuery,
    JournalAnswer,
    JournalQuery,
    OutcomesAnswer,
    OutcomesQuery,
    Query,
)
from fermwatch.contracts.inbox import Outcome, OutcomeState
from fermwatch.dashboard.events import (
    Acknowledge,
    Answered,
    AskWhich,
    AwaitOutcomes,
    CursorMoved,
    Effect,
    Happening,
    KeepUnits,
    LanePicked,
    PageOpened,
    ReadingFailed,
    RequestsKept,
    SnapshotRead,
    Tell,
    WaitedLong,
    Wish,
)
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.registry import PAGES
from fermwatch.dashboard.state import State, absorb
from fermwatch.drawing.lines import Span
from fermwatch.drawing.lines import width as line_width
from fermwatch.drawing.page import Drawn
from fermwatch.model.finding import Alarm
from fermwatch.model.window import Window, last_day
from fermwatch.saying import asking
from fermwatch.saying.voice import US
from tests.dashboard.feeds import StillFeed, dashboard
from tests.dashboard.snapshots import NOW, healthy, hot, snapshot, stalled, with_alarms
from tests.dashboard.test_keys import SIZE, until_shown


def after(state: State, *events: Happening) -> State:
    for event in events:
        state, _ = absorb(state, event)
    return state


def effects(state: State, *events: Happening) -> tuple[Effect, ...]:
    *before, last = events
    return absorb(after(state, *before), last)[1]


def about(state: State) -> tuple[str, str]:
    return state.page.NAME, state.page.about(state.known)


SHOWN = SnapshotRead(snapshot())
START = after(State(), SHOWN)
OPEN, BACK = PageOpened("fermenter"), Wish.BACK


@pytest.mark.parametrize(
    ("events", "shown"),
    [
        ([], ("overview", "left")),
        ([CursorMoved(1)], ("overview", "middle")),
        ([CursorMoved(-1)], ("overview", "left")),
        ([CursorMoved(9)], ("overview", "right")),
        ([CursorMoved(1), OPEN], ("fermenter", "middle")),
        ([CursorMoved(1), OPEN, CursorMoved(1)], ("fermenter", "right")),
        ([CursorMoved(1), OPEN, CursorMoved(1), BACK], ("overview", "right")),
        ([BACK], ("overview", "left")),
        ([LanePicked(2)], ("overview", "right")),
        ([LanePicked(2), LanePicked(2)], ("fermenter", "right")),
    ],
)
def test_where_a_person_is_after_what_they_did(events: list[Happening], shown: tuple[str, str]) -> None:
    assert about(after(START, *events)) == shown


def test_the_cursor_stays_on_its_fermenter_when_lanes_come_and_go() -> None:
    there = after(START, CursorMoved(1), SnapshotRead(snapshot(hot(), stalled())))
    assert about(there) == ("overview", "middle")
    assert about(after(there, SnapshotRead(snapshot(healthy(), stalled())))) == ("overview", "left")


def test_no_page_is_opened_of_nothing() -> None:
    assert after(State(), OPEN).pages == State().pages


def test_what_changes_nothing_is_the_same_state() -> None:
    there = after(START, CursorMoved(1))
    assert after(there, CursorMoved(0), BACK, Wish.ALARM_SEEN) is there


def test_units_are_turned_for_every_page_and_kept() -> None:
    turned = after(START, OPEN, Wish.UNITS)
    assert effects(START, Wish.UNITS) == (KeepUnits(turned.known.units, then=US),)
    assert turned.known.units != START.known.units


@pytest.mark.parametrize(
    ("shown", "wanted"),
    [
        (snapshot(healthy()), Tell(asking.NONE_WAITS)),
        (snapshot(hot()), Acknowledge(hot().alarms)),
        (snapshot(with_alarms(hot(), "cycling")), None),
    ],
)
def test_the_key_for_alarms_asks_only_where_there_are_several(shown: object, wanted: Effect | None) -> None:
    assert isinstance(shown, type(snapshot()))
    (effect,) = effects(State(), SnapshotRead(shown), Wish.ALARM_SEEN)
    assert effect == wanted if wanted is not None else isinstance(effect, AskWhich)


HAPPENINGS: tuple[Happening, ...] = (
    *(CursorMoved(by) for by in (-3, -1, 0, 1, 4)),
    *(LanePicked(number) for number in (-1, 0, 1, 5)),
    *(OPEN, BACK, Wish.UNITS, Wish.THEME, Wish.ALARM_SEEN, Wish.HELP, ReadingFailed("broken")),
    *(SnapshotRead(one) for one in (snapshot(), snapshot(hot()), snapshot(stalled(), healthy()))),
    SnapshotRead(replace(snapshot(), lanes=())),
)


@given(st.lists(st.integers(0, len(HAPPENINGS) - 1), max_size=20), st.integers(40, 150), st.integers(5, 50))
def test_whatever_happens_there_is_a_page_that_can_be_drawn(numbers: list[int], width: int, height: int) -> None:
    there = after(State(), *(HAPPENINGS[number] for number in numbers))
    known, slugs = there.known, [lane.vessel.slug for lane in there.known.lanes]
    for page in there.pages:
        assert page.about(known) in slugs or not slugs or page.NAME == "fermenter"
        assert len({type(query) for query in page.wants(known)}) == len(page.wants(known))
        drawn = page.draw(known, width, height)
        assert len(drawn.lines) == len(drawn.owners)
        assert page.SCROLLS or len(drawn.lines) <= height
        assert all(line_width(line) <= width for line in drawn.lines)
        assert set(drawn.owners) <= {-1, *range(len(slugs))}


def test_who_may_only_look_is_told_so() -> None:
    viewer = replace(START, known=replace(START.known, may_ask=False))
    assert effects(viewer, Wish.ALARM_SEEN) == (Tell(asking.VIEWER_ONLY, severe=True),)


def outcomes(asked: tuple[str, ...], *told: tuple[str, OutcomeState, str], watched: bool = True) -> Answered:
    found = tuple(Outcome(name, state, reason, NOW) for name, state, reason in told)
    return Answered(OutcomesAnswer(OutcomesQuery(asked), found, watched))


KEPT = RequestsKept(("A", "B"), "done.")
A_DONE, B_DONE = ("A", OutcomeState.DONE, ""), ("B", OutcomeState.DONE, "")


def test_what_is_asked_is_awaited_until_it_is_told() -> None:
    assert effects(START, KEPT) == (AwaitOutcomes(("A", "B")),)
    waiting = after(START, KEPT)
    assert waiting.wants() == (OutcomesQuery(("A", "B")),)
    half, said = absorb(waiting, outcomes(("A", "B"), A_DONE))
    assert said == ()
    assert half.wants() == (OutcomesQuery(("B",)),)
    whole, said = absorb(half, outcomes(("B",), B_DONE))
    assert said == (Tell("done."),)
    assert whole.wants() == ()


def test_two_that_are_done_at_once_are_said_once() -> None:
    assert effects(START, KEPT, outcomes(("A", "B"), A_DONE, B_DONE)) == (Tell("done."),)


def test_a_refusal_is_said_with_its_reason() -> None:
    told = outcomes(("A", "B"), ("A", OutcomeState.REFUSED, "There is no such alarm."), B_DONE)
    assert effects(START, KEPT, told) == (Tell("There is no such alarm.", severe=True), Tell("done."))
    expired = outcomes(("A", "B"), ("A", OutcomeState.EXPIRED, ""))
    assert effects(START, KEPT, expired) == (Tell("The request was expired.", severe=True),)


@pytest.mark.parametrize("watched", [True, False])
def test_no_outcome_after_a_while_is_said_and_still_awaited(watched: bool) -> None:
    waited = (KEPT, outcomes(("A", "B"), watched=watched), WaitedLong(("A", "B")))
    assert effects(START, *waited) == (Tell(asking.kept(watched=watched)),)
    assert effects(START, *waited, outcomes(("A", "B"), A_DONE, B_DONE)) == (Tell("done."),)


def test_the_store_is_looked_at_quicker_only_as_long_as_somebody_waits() -> None:
    assert not START.looks_out
    assert after(START, KEPT).looks_out
    assert not after(START, KEPT, WaitedLong(("A", "B"))).looks_out
    assert after(START, KEPT, WaitedLong(("A", "B")), RequestsKept(("C",), "done.")).looks_out
    assert not after(START, KEPT, outcomes(("A", "B"), A_DONE, B_DONE)).looks_out


def test_a_wait_that_is_over_says_nothing() -> None:
    assert effects(START, KEPT, outcomes(("A", "B"), A_DONE, B_DONE), WaitedLong(("A", "B"))) == ()


@dataclass(frozen=True, slots=True)
class Zoomed:
    """A page of its own, as a next one would be written: a window of history that a key makes longer."""

    NAME: ClassVar[str] = "zoomed"
    SCROLLS: ClassVar[bool] = False
    vessel: str
    days: int = 1

    def about(self, _known: Known) -> str:
        return self.vessel

    def absorb(self, event: Happening, _known: Known) -> "Zoomed | PageOpened":
        return replace(self, days=self.days + event.by) if isinstance(event, CursorMoved) else self

    def wants(self, _known: Known) -> tuple[Query, ...]:
        end = last_day(NOW).end
        return CurvesQuery(self.vessel, Window(end - timedelta(days=self.days), end, 96)), JournalQuery(5)

    def draw(self, known: Known, _width: int, _height: int) -> Drawn:
        wanted, journal = self.wants(known)
        answer, told = known.answer(wanted), known.answer(journal)
        there = isinstance(answer, CurvesAnswer) and answer.query == wanted and isinstance(told, JournalAnswer)
        return Drawn(((Span(f"{self.vessel}: {self.days} days, {'read' if there else 'waited for'}"),),), (-1,))

    def waiting(self, _known: Known) -> tuple[Alarm, ...]:
        return ()


async def test_a_new_page_needs_its_own_file_and_a_line_in_the_registry(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(PAGES, "zoomed", Zoomed)
    feed = StillFeed(snapshot())
    app = dashboard(feed=feed)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        app.absorb(PageOpened("zoomed"))
        await until_shown(pilot, "left: 1 days, read")
        app.absorb(CursorMoved(20))
        await until_shown(pilot, "left: 21 days, read")
        app.absorb(Wish.BACK)
        await until_shown(pilot, "Middle")
    windows = [query.window.length.days for query in feed.queries if isinstance(query, CurvesQuery)]
    assert windows == [1, 21]


def test_an_answer_to_an_earlier_query_says_so() -> None:
    query = CurvesQuery("left", last_day(NOW))
    known = Known().with_answer(CurvesAnswer(query, Curves(query.window)))
    later = query._replace(window=last_day(NOW + timedelta(days=1)))
    answer = known.answer(later)
    assert answer is not None
    assert answer.query == query
    assert known.answer(JournalQuery()) is None
