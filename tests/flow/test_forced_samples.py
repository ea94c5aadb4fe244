"""A forced ferment as it is noted: what cannot be one is questioned at the door, kept if it is meant, and counts for
nothing."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.support.command_line import CommandLine, command_line

PITCHED = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
HOUR = 3600.0
DAY = 24 * HOUR


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    """A batch at 1.050, just pitched."""
    monkeypatch.setenv("COLUMNS", "100")
    desk = command_line(tmp_path / "store", PITCHED, capsys)
    desk.done(
        *("batch", "open", "Stuck", "--vessel", "left", "--og", "1.050", "--yeast", "clean-ale", "--yes"),
        *("--volume", "20L", "--package", "returnable-glass", "--volumes", "2.4", "--storage", "25C"),
    )
    return desk


def flat(text: str) -> str:
    return " ".join(text.split())


def forced(gravity: str, *words: str) -> tuple[str, ...]:
    return ("note", "left", "forced-ferment", "--gravity", gravity, "--sample", "20C", *words, "--yes")


def read_twice(desk: CommandLine, gravity: str) -> None:
    for _ in range(2):
        desk.clock.advance(25 * HOUR)
        desk.done("measure", "left", "hydrometer", gravity, "--sample", "20C", "--degassed", "--yes", "--even-so")


@pytest.mark.parametrize(
    ("days", "gravity", "words", "why"),
    [
        (1 / 24, "1.030", ("--kept-at", "4C"), "kept at 4 °C"),
        (8, "1.020", (), "It is not said how warm the sample was kept (--kept-at)"),
        (1, "1.016", ("--kept-at", "12C"), "kept at 12 °C"),
        (1, "1.012", ("--kept-at", "25C"), "24 h after the pitch"),
        (8, "1.060", ("--kept-at", "25C"), "no less than the original gravity"),
        (8, "0.990", ("--kept-at", "25C"), "another ferment, or misread"),
        (8, "1.0245", ("--kept-at", "25C"), "shows no end"),
    ],
)
def test_a_sample_that_cannot_be_one_makes_nothing_safe(
    desk: CommandLine, days: float, gravity: str, words: tuple[str, ...], why: str
) -> None:
    desk.clock.advance(days * DAY)
    questioned = desk.type(*forced(gravity, *words))
    assert questioned.status != 0
    assert why in flat(questioned.text)
    desk.done(*forced(gravity, *words, "--even-so"))
    desk.clock.advance(9 * DAY)
    read_twice(desk, gravity if "1.000" < gravity < "1.050" else "1.012")
    bottle = desk.type("bottle", "left")
    assert bottle.status == 1
    assert "not ready" in flat(bottle.text).lower() or "do not bottle" in flat(bottle.text).lower()
    packaged = desk.type("batch", "package", "left", "--warmest", "20C", "--yes")
    assert packaged.status != 0
    assert "is not declared safe to bottle" in packaged.error


def test_why_it_does_not_count_is_said_where_it_is_missed(desk: CommandLine) -> None:
    desk.clock.advance(8 * DAY)
    desk.done(*forced("1.020", "--even-so"))
    read_twice(desk, "1.020")
    assert "It is not said how warm the sample was kept" in flat(desk.type("bottle", "left").text)


def test_one_that_was_kept_warm_and_ended_in_the_range_settles_it(desk: CommandLine) -> None:
    desk.clock.advance(7 * DAY)
    desk.done(*forced("1.011", "--kept-at", "25C"))
    read_twice(desk, "1.011")
    desk.clock.advance(HOUR)
    assert desk.type("bottle", "left").status in {0, 1}
    desk.clock.advance(4 * HOUR)
    assert desk.type("bottle", "left").status == 0
