"""Sugar that was just added, and the chance that a bottle exceeds its limit, as `bottle` tells of them."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.judgement.filling import of_bottles, percent
from tests.support.command_line import CommandLine, command_line

PITCHED = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
HOUR = 3600.0
DAY = 24 * HOUR


def flat(text: str) -> str:
    return " ".join(text.split())


def settled(desk: CommandLine, *package: str) -> None:
    """Finished at 1.0110 by a forced ferment and two readings, warm, and found safe."""
    desk.done(
        *("batch", "open", "Kept", "--vessel", "left", "--og", "1.050", "--yeast", "clean-ale", "--yes"),
        *("--volume", "20L", "--package", "returnable-glass", *package),
    )
    desk.clock.advance(7 * DAY)
    desk.done("note", "left", "forced-ferment", "--gravity", "1.011", "--sample", "20C", "--kept-at", "25C", "--yes")
    for _ in range(2):
        desk.clock.advance(25 * HOUR)
        desk.done("measure", "left", "hydrometer", "1.011", "--sample", "20C", "--degassed", "--yes", "--even-so")
    desk.clock.advance(4 * HOUR)
    now = desk.clock.now()
    desk.hear("left-beer", {now - timedelta(hours=step / 2.0): 18.5 for step in range(400)})


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setenv("COLUMNS", "200")
    return command_line(tmp_path / "store", PITCHED, capsys)


def test_sugar_just_added_counts_until_gravity_has_fallen_by_it(desk: CommandLine) -> None:
    settled(desk, "--volumes", "2.4", "--storage", "25C")
    assert desk.type("bottle", "left").status == 0
    desk.done("add", "left", "sugar", "--grams", "400", "--yes", "--even-so")
    for hours in (0.01, 3.0, 24.0):
        desk.clock.advance(hours * HOUR)
        bottle = desk.type("bottle", "left")
        assert bottle.status == 1
        assert "not met package: 9.3 points of what was added may still ferment" in flat(bottle.text)
    desk.clock.advance(6 * DAY)
    desk.done("measure", "left", "hydrometer", "1.0105", "--sample", "20C", "--degassed", "--yes", "--even-so")
    desk.clock.advance(4 * HOUR)
    assert "of what was added" not in flat(desk.type("bottle", "left").text)


def test_glass_of_which_one_in_twenty_may_be_over_its_limit_is_not_safe(desk: CommandLine) -> None:
    settled(desk, "--volumes", "3.2", "--storage", "25C")
    bottle = desk.type("bottle", "left")
    assert bottle.status == 1
    text = flat(bottle.text)
    assert "of 40 bottles, and at most 1% will do" in text
    assert "Not ready to bottle: finished. Too much for this package: at most 3.0" in text
    assert "volumes in a returnable glass bottle" in text
    assert "Next: Choose: At most 3.0" in text


@pytest.mark.parametrize(("chance", "said"), [(0.72, "72.0%"), (0.013, "1.3%"), (0.0003, "0.03%"), (0.0, "0.0%")])
def test_a_chance_that_is_told_in_bottles_is_never_nothing_in_percent(chance: float, said: str) -> None:
    """It said "0.0%: about 1 bottle in 3300"."""
    assert percent(chance) == said


@pytest.mark.parametrize(
    ("chance", "bottles", "said"),
    [
        (0.047, 40, "about 2 of 40 bottles"),
        (0.00064, 35, "about 1 bottle in 1600"),
        (1.0, 12, "about 12 of 12 bottles"),
        (0.0, 40, "less than 1 bottle in 100000"),
    ],
)
def test_a_chance_is_said_as_a_number_of_bottles(chance: float, bottles: int, said: str) -> None:
    assert of_bottles(chance, bottles) == said
