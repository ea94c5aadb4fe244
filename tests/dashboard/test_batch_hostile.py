"""Names that try to take over a terminal, through the pages of batches and what is written in of them."""

import pytest

from fermwatch.contracts.feed import BatchAnswer, BatchQuery, FiguresAnswer, FiguresQuery
from fermwatch.contracts.figures import BatchFigures
from fermwatch.dashboard.events import AskWhatToWrite, SnapshotRead, Wish
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.batch import BatchPage
from fermwatch.dashboard.pages.batches import Batches, Beside
from fermwatch.dashboard.pages.page import Page
from fermwatch.dashboard.state import State, absorb
from fermwatch.dashboard.widgets.paper import Paper
from fermwatch.drawing.lines import width
from fermwatch.model.batch import Event, EventKind, GravityMeasurement
from tests.dashboard.hostile import NAMES, hostile_snapshot, worst
from tests.dashboard.snapshots import NOW

PAGES: tuple[Page, ...] = (BatchPage("x"), Batches("x"), Beside("x x"))


def hostile(*, typed: bool) -> Known:
    shown = hostile_snapshot()
    known = Known(ascii=typed, snapshot=shown)
    batches = [lane.batch for lane in shown.lanes if lane.batch is not None]
    events = tuple(Event(f"e{number}", NOW, EventKind.NOTE, {"name": name}, name) for number, name in enumerate(NAMES))
    measured = (GravityMeasurement("m1", NOW, 1.02, correction=worst()),)
    known = known.with_answer(BatchAnswer(BatchQuery("x"), batches[0], measured, events))
    return known.with_answer(FiguresAnswer(FiguresQuery(), tuple(BatchFigures(one) for one in batches)))


@pytest.mark.parametrize("typed", [False, True])
@pytest.mark.parametrize("columns", [12, 40, 80, 200])
@pytest.mark.parametrize("page", PAGES, ids=[type(page).__name__ for page in PAGES])
def test_no_page_of_batches_lets_a_name_through(page: Page, columns: int, typed: bool) -> None:
    known = hostile(typed=typed)
    if isinstance(page, Beside):
        answer = known.answer(FiguresQuery())
        assert isinstance(answer, FiguresAnswer)
        known = known.with_answer(FiguresAnswer(FiguresQuery(("x", "x")), answer.batches[:2]))
    lines = page.draw(known, columns, 24).lines
    assert lines
    paper = Paper(ascii_only=typed)
    for line in lines:
        assert width(line) <= columns
        shown = "".join(paper._shown(span.text) for span in line)
        assert shown.isprintable(), shown
        assert shown.isascii() or not typed


def test_what_may_be_written_in_is_asked_of_a_name_as_it_is() -> None:
    """Cleaned where it is shown, and by the command that reads it: not here."""
    state, _ = absorb(State(), SnapshotRead(hostile_snapshot()))
    _, (effect,) = absorb(state, Wish.WRITE)
    assert isinstance(effect, AskWhatToWrite)
    assert effect.about == NAMES[0]
