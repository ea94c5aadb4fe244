"""Beer that is packaged before it is safe: what is reckoned on that day, and what is said of it from then on."""

import json
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.support.command_line import CommandLine, command_line

PITCHED = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
HOUR = 3600.0
DAY = 24 * HOUR
GLASS = ("--package", "returnable-glass", "--volumes", "2.4", "--storage", "25C", "--volume", "18L", "--warmest", "20C")


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    """Wort that was pitched just now, of which nothing is known but its original gravity."""
    monkeypatch.setenv("COLUMNS", "200")
    desk = command_line(tmp_path / "store", PITCHED, capsys)
    desk.done(
        *("batch", "open", "Fresh Wort", "--vessel", "left", "--og", "1.048", "--yeast", "clean-ale"),
        *("--volume", "19L", "--yes"),
    )
    return desk


def flat(text: str) -> str:
    return " ".join(text.split())


def chance(told: str) -> float:
    """That a bottle exceeds its limit, percent, as it is told."""
    found = re.search(r"exceeds its limit: (?:above )?([\d.]+) ?%", told)
    assert found is not None, told
    return float(found[1])


@pytest.mark.parametrize("hours", [0.0, 1.0, 2.9, 3.1, 7 * 24.0, 60 * 24.0])
def test_of_wort_that_nothing_was_measured_of_all_may_still_ferment(desk: CommandLine, hours: float) -> None:
    """It said "0.049 %, about 1 bottle in 2000" in the first hours, as of beer that two readings found done."""
    desk.clock.advance(hours * HOUR)
    told = flat(desk.type("batch", "package", "left", *GLASS).text)
    assert chance(told) > 90.0, told


@pytest.mark.parametrize("kind", ["heavy-glass", "sparkling-wine-glass"])
def test_no_glass_is_strong_enough_for_wort(desk: CommandLine, kind: str) -> None:
    told = flat(desk.type("batch", "package", "left", *GLASS, "--package", kind).text)
    assert chance(told) > 90.0, told
    assert "let it finish." in told
    assert "heavier glass" not in told


@pytest.mark.parametrize("reading", ["1.048", "1.010"])
def test_one_reading_in_the_pitchs_hour_shows_no_end(desk: CommandLine, reading: str) -> None:
    """Who opens his batch on the bottling day and reads it then has shown where it is, and not that it stays there."""
    desk.clock.advance(0.5 * HOUR)
    desk.done("measure", "left", "hydrometer", reading, "--sample", "20C", "--degassed", "--even-so", "--yes")
    told = flat(desk.type("batch", "package", "left", *GLASS).text)
    assert chance(told) > 50.0, told


@pytest.fixture
def bottled(desk: CommandLine) -> CommandLine:
    """The wort went into bottles, against the verdict, three days ago."""
    desk.done("batch", "package", "left", *GLASS, "--yes", "--although-not-safe")
    desk.clock.advance(3 * DAY)
    return desk


BURSTS = "Fresh Wort was bottled before it was declared safe: bottles that are too full burst, and glass flies"
AS_JUDGED = "As judged then, about 37 points might still ferment; chance that a bottle exceeds its limit: above 99 %."
TO_DO = ("Keep them cold", "covered", "Goggles", "open one, carefully", "PET bottle", "leave the room")


@pytest.mark.parametrize("words", [("bottle", "Fresh Wort"), ("batch", "show", "Fresh Wort"), ("status",)])
def test_what_was_bottled_before_it_was_safe_is_said_first_of_it(bottled: CommandLine, words: tuple[str, ...]) -> None:
    """It was told calmly: "Open the first on 15 Mar"."""
    with bottled.watched():
        told = flat(bottled.type(*words).text)
    for part in (BURSTS, AS_JUDGED, *TO_DO):
        assert part in told, part
    assert told.index(BURSTS) < told.index(AS_JUDGED) < told.index("Open the first")
    assert told.count(BURSTS) == 1


def test_it_calls_somebody_and_once_seen_it_is_still_said(bottled: CommandLine) -> None:
    with bottled.watched():
        assert flat(bottled.type("status").text).startswith("home: Fresh Wort needs you.")
    bottled.done("ack", "packaged-too-early")
    bottled.done("ack", "squeeze-the-bottle")
    with bottled.watched():
        told = flat(bottled.type("status").text)
    assert "needs you" not in told
    assert BURSTS in told
    assert AS_JUDGED in told


def test_in_fahrenheit_the_cold_is_too(bottled: CommandLine) -> None:
    told = flat(bottled.type("--units", "us", "bottle", "Fresh Wort").text)
    assert "near 32 °F" in told


def test_programs_are_told_what_was_judged_on_that_day(bottled: CommandLine) -> None:
    known = json.loads(bottled.type("bottle", "Fresh Wort", "--json").text)["conditioning"]
    assert (known["declared_safe"], known["chance_over_limit"]) == (False, 1.0)
    assert 30.0 < known["left_points"] < 42.0
