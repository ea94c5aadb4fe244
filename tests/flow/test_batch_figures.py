"""Batches in figures, over a real store: listed, and two asked for by name."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.contracts.feed import FiguresAnswer, FiguresQuery
from fermwatch.contracts.figures import BatchFigures
from tests.support.command_line import CommandLine, command_line
from tests.support.stores import open_feed

NOW = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> CommandLine:
    """One beer ended long ago, one in the same fermenter now, which was hot."""
    desk = command_line(tmp_path / "store", NOW, capsys)
    pitched = ("--vessel", "left", "--og", "1.052", "--yeast", "clean-ale", "--volume", "18L", "--yes", "--pitched-at")
    desk.done("batch", "open", "Old Ale", *pitched, "2026-02-02 18:00")
    desk.done("batch", "end", "Old Ale", "--yes")
    desk.done("batch", "open", "Harvest Ale", *pitched, "2026-02-22 18:00")
    at = NOW - timedelta(days=2)
    desk.hear("left-beer", {at + timedelta(minutes=10 * step): 26.0 for step in range(12)})
    desk.hear("left-beer", {NOW - timedelta(days=40): 31.0})
    desk.done("measure", "Harvest Ale", "hydrometer", "1.020", "--degassed", "--yes")
    with desk.watched():
        pass
    return desk


def figures(desk: CommandLine, *batch_ids: str) -> tuple[BatchFigures, ...]:
    feed = open_feed(desk.directory, "home")
    try:
        answer = feed.answer(FiguresQuery(batch_ids), NOW)
    finally:
        feed.close()
    assert isinstance(answer, FiguresAnswer)
    return answer.batches


def test_every_batch_is_listed_the_newest_first(desk: CommandLine) -> None:
    newest, oldest = figures(desk)
    assert (newest.batch.name, oldest.batch.name) == ("Harvest Ale", "Old Ale")
    assert newest.last_sg == pytest.approx(1.020, abs=0.002)
    assert newest.attenuation == pytest.approx(32 / 52, abs=0.05)
    assert (newest.warmest_c, newest.alarms) == (None, None), "read where a batch is asked for by name"


def test_two_by_name_with_how_warm_they_were_and_how_often_they_called(desk: CommandLine) -> None:
    newest, oldest = figures(desk)
    first, second = figures(desk, oldest.batch.id, newest.batch.id)
    assert (first.batch.name, second.batch.name) == ("Old Ale", "Harvest Ale")
    assert first.warmest_c != pytest.approx(31.5), "it was hot before the pitch"
    assert second.warmest_c == pytest.approx(26.5), "the probe reads half a degree low"
    assert second.alarms is not None


def test_one_that_there_is_not_is_left_out(desk: CommandLine) -> None:
    assert figures(desk, "nothing") == ()
