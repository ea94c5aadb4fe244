"""What the page of one batch says and draws at fixed sizes."""

from dataclasses import replace
from datetime import timedelta

import pytest

from fermwatch.contracts.feed import BatchAnswer, BatchQuery, FiguresAnswer, FiguresQuery
from fermwatch.contracts.figures import BatchFigures
from fermwatch.dashboard.events import LanePicked, MarkStepped, PageOpened, Wish
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.batch import BatchPage
from fermwatch.dashboard.pages.batches import Batches, Beside
from fermwatch.drawing.lines import plain, width
from fermwatch.model.batch import PackageChoice
from tests.dashboard.expected_text import Expected
from tests.dashboard.feeds import StillFeed
from tests.dashboard.ferments import known_of, lane_with_a_story
from tests.dashboard.snapshots import NOW, hot, in_package, snapshot

SIZES = [(80, 24), (120, 40), (200, 60), (40, 12)]
LEFT = BatchPage("left")


def drawn(page: BatchPage, known: Known, columns: int, rows: int) -> str:
    lines = page.draw(known, columns, rows).lines
    assert max(width(line) for line in lines) <= columns
    return "".join(f"{plain(line)}\n" for line in lines)


def stepped(page: BatchPage, known: Known, by: int) -> BatchPage:
    after = page.absorb(MarkStepped(by), known)
    assert isinstance(after, BatchPage)
    return after


def full() -> Known:
    """A beer in a fermenter with little headspace, of which one reading was voided."""
    lane = lane_with_a_story()
    assert lane.batch is not None
    batch = replace(
        lane.batch,
        fermenter_volume_l=22.0,
        package=PackageChoice("returnable-glass", 2.4, storage_c=25.0),
        notes="half the malt smoked",
    )
    first, second = lane.measurements
    return known_of(replace(lane, batch=batch, measurements=(first, replace(second, voided=True))), hot())


def packaged() -> Known:
    beer = in_package("Stout", 20.0, declared_safe=True, storage_c=22.0, bottles=38.0)
    return Known(snapshot=replace(snapshot(), in_package=(beer,)))


@pytest.mark.parametrize(("columns", "rows"), SIZES)
def test_a_beer_in_its_fermenter_at_every_size(expected: Expected, columns: int, rows: int) -> None:
    expected.check(f"batch_{columns}x{rows}", drawn(stepped(LEFT, full(), 1), full(), columns, rows))


def test_the_same_in_ascii(expected: Expected) -> None:
    shown = drawn(stepped(LEFT, full(), 1), replace(full(), ascii=True), 80, 24)
    assert shown.isascii()
    expected.check("batch_ascii", shown)


def test_a_beer_in_its_bottles_with_its_dates_and_its_label(expected: Expected) -> None:
    expected.check("batch_packaged", drawn(BatchPage("stout"), packaged(), 80, 24))


def test_a_fermenter_without_a_beer_says_the_one_next_step(expected: Expected) -> None:
    lane = replace(lane_with_a_story(), batch=None, judgement=None)
    expected.check("batch_empty", drawn(LEFT, known_of(lane), 80, 24))


def test_what_may_burst_is_labelled_so_and_bears_no_date() -> None:
    early = in_package("Wort", 3.0, declared_safe=False, left_points=36.0, chance_over_limit=0.99)
    shown = drawn(BatchPage("wort"), Known(snapshot=replace(snapshot(), in_package=(early,))), 80, 24)
    label = shown[shown.index("label") :]
    assert "May be too full" in label
    assert "Best until" not in label


def several(columns: int, *, ids: tuple[str, ...] = ()) -> Known:
    """Three beers in fermenters, one in its bottles and one long ended."""
    known = Known(ascii=columns == 80, snapshot=replace(snapshot(), in_package=(in_package("Stout", 20.0),)))
    feed = StillFeed(known.snapshot or snapshot())
    answer = feed.answer(FiguresQuery(ids), NOW)
    assert isinstance(answer, FiguresAnswer)
    old = replace(answer.batches[0].batch, id="old", name="[b]Old ale", ended_at=NOW)
    more = () if ids else (BatchFigures(old, 1.011, 0.79, 6.0),)
    return known.with_answer(replace_batches(answer, more))


def replace_batches(answer: FiguresAnswer, more: tuple[BatchFigures, ...]) -> FiguresAnswer:
    return FiguresAnswer(answer.query, (*answer.batches, *more))


@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (120, 40), (40, 12)])
def test_every_batch_there_was_and_two_side_by_side(expected: Expected, columns: int, rows: int) -> None:
    known = several(columns)
    page = Batches("left", beside="batch-right")
    lines = page.draw(known, columns, rows).lines
    assert max(width(line) for line in lines) <= columns
    expected.check(f"batches_{columns}x{rows}", "".join(f"{plain(line)}\n" for line in lines))
    ids = ("batch-left", "batch-right")
    lines = Beside(" ".join(ids)).draw(several(columns, ids=ids), columns, rows).lines
    assert max(width(line) for line in lines) <= columns
    expected.check(f"beside_{columns}x{rows}", "".join(f"{plain(line)}\n" for line in lines))


def test_one_is_marked_then_another_is_laid_beside_it() -> None:
    known = several(80)
    page = Batches("middle")
    assert page.about(known) == "batch-middle"
    marked = page.absorb(Wish.BESIDE, known)
    assert isinstance(marked, Batches)
    assert marked.beside == "batch-middle"
    again = marked.absorb(Wish.BESIDE, known)
    assert isinstance(again, Batches)
    assert again.beside == ""
    on_another = marked.absorb(MarkStepped(1), known)
    assert isinstance(on_another, Batches)
    assert on_another.absorb(Wish.BESIDE, known) == PageOpened("beside", "batch-middle batch-right")


def test_the_cursor_steps_through_the_entries_and_stays_on_its_own() -> None:
    known = full()
    page = stepped(LEFT, known, 1)
    assert page.entry == "e3"
    assert stepped(page, known, 1).entry == "e2"
    assert stepped(page, known, 99).entry == "m1"
    assert stepped(page, known, -1).entry == ""
    assert stepped(LEFT, known, -1).entry == ""
    clicked = LEFT.absorb(LanePicked(2), known)
    assert isinstance(clicked, BatchPage)
    assert clicked.entry == "m2"
    picked = page.picked(known)
    assert picked is not None
    assert picked.id == "e3"


def test_an_entry_that_is_gone_leaves_the_cursor_nowhere() -> None:
    page = replace(LEFT, entry="gone")
    assert page.picked(full()) is None
    assert page.draw(full(), 80, 24).picked == -1


def test_it_shows_what_the_store_answers_of_a_batch_that_is_in_no_fermenter() -> None:
    lane = lane_with_a_story()
    assert lane.batch is not None
    ended = replace(lane.batch, id="old", name="Old ale", ended_at=lane.batch.pitched_at + timedelta(days=3))
    page, known = BatchPage("old"), known_of()
    assert page.wants(known) == (BatchQuery("old"),)
    assert "Reading what is known" in drawn(page, known, 80, 24)
    known = known.with_answer(BatchAnswer(BatchQuery("old"), ended, lane.measurements, lane.events))
    shown = drawn(page, known, 80, 24)
    assert "Old ale  ended" in shown
    assert "green hop" in shown
