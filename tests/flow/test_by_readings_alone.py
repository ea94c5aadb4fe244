"""A beer that only a hydrometer tells of: nothing is said of a probe, and a reading is believed that beer can do."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.support.command_line import CommandLine, command_line

PITCHED = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
DAY = 86400.0


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    """A batch at 1.050, just pitched; its probes were never heard."""
    monkeypatch.setenv("COLUMNS", "100")
    desk = command_line(tmp_path / "store", PITCHED, capsys)
    ale = ("--vessel", "left", "--og", "1.050", "--yeast", "clean-ale", "--volume", "20L", "--yes")
    desk.done("batch", "open", "Lone Ale", *ale)
    return desk


def after(desk: CommandLine, days: float, gravity: str) -> str:
    """What `status` and `bottle` say once this was read."""
    desk.clock.advance(days * DAY)
    desk.done("measure", "left", "hydrometer", gravity, "--sample", "20C", "--degassed", "--even-so", "--yes")
    with desk.watched():
        return " ".join((desk.type("status").text + desk.type("bottle", "left").text).split())


def test_a_beer_that_began_late_and_falls_fast_is_no_contradiction(desk: CommandLine) -> None:
    after(desk, 1.0, "1.045")
    said = after(desk, 1.0, "1.020")
    assert "the probe" not in said
    assert "1.0200 on 3 Mar 19:00, 0.0 points from the trend then" in said
    assert "Not ready to bottle: it is still fermenting" in said


def test_the_first_reading_of_all_is_believed_however_fast_it_fell(desk: CommandLine) -> None:
    said = after(desk, 1.5, "1.014")
    assert "the probe" not in said
    assert "Do not bottle" not in said


def test_what_no_beer_does_is_read_once_more_and_not_laid_to_a_probe(desk: CommandLine) -> None:
    after(desk, 6.0, "1.012")
    after(desk, 2.0, "1.012")
    said = after(desk, 0.5, "1.022")
    assert "the probe" not in said
    assert "Not ready to bottle: two readings by hand contradict each other" in said
    assert "safe to bottle" not in said


def test_one_reading_since_the_pitch_tells_no_pace_of_today(desk: CommandLine) -> None:
    said = after(desk, 3.0, "1.012")
    assert "Gravity 1.012" in said
    assert "points/day" not in said
