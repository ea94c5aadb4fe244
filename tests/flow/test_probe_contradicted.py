"""A float that reads far below the hydrometer: which says what, how far apart they are, and which is believed."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.support.command_line import CommandLine, command_line

PITCHED = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
DAYS = 9
HOURS = DAYS * 24


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    """Nine days after a pitch at 1.050: the float drifted down by 11 points and stands at 1.001."""
    monkeypatch.setenv("COLUMNS", "100")
    desk = command_line(tmp_path / "store", PITCHED, capsys)
    ale = ("--vessel", "left", "--og", "1.050", "--yeast", "clean-ale", "--volume", "20L", "--yes")
    desk.done("batch", "open", "Float Ale", *ale)
    desk.clock.advance(DAYS * 86400.0)
    points = [50.0 - min(hour * 0.5, 38.0) - min(hour * 0.11, 11.0) + hour * 7 % 5 * 0.1 for hour in range(HOURS + 1)]
    at = [PITCHED + timedelta(hours=hour) for hour in range(HOURS + 1)]
    desk.hear("left-float", dict(zip(at, (1.0 + one / 1000.0 for one in points), strict=True)))
    desk.hear("left-beer", dict.fromkeys(at, 18.5))
    return desk


@pytest.mark.parametrize("read_at", ["2026-03-08 19:00", "2026-03-10 16:00"])
def test_the_hydrometer_is_not_said_to_have_told_what_the_probe_told(desk: CommandLine, read_at: str) -> None:
    """It read 1.012, 76 %, which is what its yeast does."""
    read = ("hydrometer", "1.012", "--sample", "20C", "--degassed", "--even-so", "--yes", "--at", read_at)
    desk.done("measure", "left", *read)
    with desk.watched():
        status = " ".join(desk.type("status").text.split())
        bottle = " ".join(desk.type("bottle", "left").text.split())
        shown = " ".join(desk.type("batch", "show", "left").text.split())
    assert "Gravity 1.001 by the probe; from 1.050" in status
    for said in (status, shown):
        assert "the probe reads 11 points lower than the hydrometer says" in said
    estimate = status.split("estimated to be about ")[1][:5]
    assert f"% at {estimate}." in status
    assert f"estimated for now {estimate}" in shown.split("% attenuated")[0]
    assert "Do not bottle: the hydrometer and the probe are 11 points apart." in bottle
    assert "the hydrometer says so too" not in bottle + status
    assert "Look at the probe." in bottle
