"""A batch that is entered days late: what was measured and seen in those days answers whether it has started."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.support.command_line import CommandLine, command_line

NOW = datetime(2026, 3, 11, 18, 0, tzinfo=UTC)
PITCHED = NOW - timedelta(days=10)
ASKED = "nobody said of it whether it has started"


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setenv("COLUMNS", "200")
    desk = command_line(tmp_path / "store", NOW, capsys)
    wort = ("--vessel", "left", "--og", "1.057", "--yeast", "clean-ale", "--volume", "19L", "--yes")
    desk.done("batch", "open", "Late Ale", *wort, "--pitched-at", said(PITCHED))
    assert ASKED in status(desk)
    return desk


def said(at: datetime) -> str:
    return f"{at + timedelta(hours=1):%Y-%m-%d %H:%M}"  # in Vienna


def status(desk: CommandLine) -> str:
    desk.clock.advance(60.0)
    with desk.watched():
        return " ".join(desk.type("status").text.split())


def measure(desk: CommandLine, gravity: str, day: float) -> None:
    words = ("--sample", "20C", "--degassed", "--even-so", "--yes")
    desk.done("measure", "left", "hydrometer", gravity, *words, "--at", said(PITCHED + timedelta(days=day)))


def test_an_older_reading_that_shows_a_fall_ends_the_question(desk: CommandLine) -> None:
    """It stood beside "apparent attenuation 43%, by hydrometer", and made the headline."""
    measure(desk, "1.0327", 2)
    told = status(desk)
    assert ASKED not in told
    assert "Left bucket needs you" not in told


def test_an_older_reading_without_a_fall_does_not_and_a_sign_of_life_does(desk: CommandLine) -> None:
    measure(desk, "1.056", 0.5)
    assert "1.056 was measured last" in status(desk)
    desk.done("note", "left", "signs-of-life", "--at", said(PITCHED + timedelta(days=1)), "--yes")
    assert ASKED not in status(desk)


def test_signs_of_life_of_an_earlier_day_end_it(desk: CommandLine) -> None:
    desk.done("note", "left", "signs-of-life", "--at", said(PITCHED + timedelta(days=1)), "--yes")
    assert ASKED not in status(desk)


def test_a_start_that_was_missed_by_the_hydrometer_is_ended_by_what_was_seen_since(desk: CommandLine) -> None:
    """Its own remedy: look for signs of life, and note them."""
    measure(desk, "1.0570", 3)
    assert "not-started" in (told := status(desk)) or "not started" in told
    desk.done("note", "left", "signs-of-life", "--at", said(PITCHED + timedelta(days=4)), "--yes")
    told = status(desk)
    assert "not started" not in told
    assert "not-started" not in told
    assert "needs you" not in told
