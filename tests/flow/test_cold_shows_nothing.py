"""Beer that was chilled before it had finished reads the same for weeks, and bursts its bottles where it is warm."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.support.command_line import CommandLine, command_line

PITCHED = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
DAY = 24 * 3600.0
CHILLED = "2026-03-08 18:00"  # on day 7
COLD = ("note", "left", "stands-at", "--temperature", "4C", "--since", CHILLED, "--yes")
CRASHED = ("note", "left", "crash", "--target", "4C", "--at", CHILLED, "--yes", "--even-so")


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setenv("COLUMNS", "200")
    desk = command_line(tmp_path / "store", PITCHED, capsys)
    desk.done(
        *("batch", "open", "Hands", "--vessel", "left", "--og", "1.052", "--yeast", "clean-ale", "--yes"),
        *("--volume", "20L", "--package", "returnable-glass", "--volumes", "2.3", "--storage", "25C"),
    )
    return desk


def read_on_days(desk: CommandLine, sample: str, *days: int) -> None:
    for day in days:
        desk.clock.advance(day * DAY - (desk.clock.now() - PITCHED).total_seconds())
        desk.done("measure", "left", "hydrometer", "1.012", "--sample", sample, "--degassed", "--even-so", "--yes")
    desk.clock.advance(6 * 3600.0)


def told(desk: CommandLine) -> str:
    said = desk.type("bottle", "left")
    text = " ".join(said.text.split())
    assert (said.status, "safe to bottle" in text) == (1, False), text
    return text


def test_a_word_that_it_stood_cold_counts_from_since_when_it_did_whenever_it_is_said(desk: CommandLine) -> None:
    read_on_days(desk, "20C", 9, 11, 14)
    assert desk.type("bottle", "left").status == 0
    desk.done(*COLD)
    assert "too cold" in told(desk)
    desk.clock.advance(DAY)
    assert "too cold" in told(desk)


@pytest.mark.parametrize("said", [COLD, CRASHED])
def test_readings_that_agree_in_the_cold_prove_nothing(desk: CommandLine, said: tuple[str, ...]) -> None:
    desk.clock.advance(8 * DAY)
    desk.done(*said)
    read_on_days(desk, "20C", 9, 11, 14)
    assert "Warm it to" in told(desk)


def test_samples_that_were_read_cold_tell_of_cold_beer(desk: CommandLine) -> None:
    read_on_days(desk, "4C", 9, 11, 14)
    text = told(desk)
    assert "was read at 4.0 °C: cold beer shows little" in text
    assert "stands-at" in text
    desk.done("note", "left", "stands-at", "--temperature", "20C", "--since", "2026-03-02 18:00", "--yes")
    assert desk.type("bottle", "left").status == 0, "samples may be cooled, of beer that stands warm"


def test_beer_read_in_the_warm_is_safe_in_the_cold_too(desk: CommandLine) -> None:
    read_on_days(desk, "20C", 9, 12)
    assert desk.type("bottle", "left").status == 0
    desk.done("note", "left", "crash", "--target", "2C", "--yes", "--even-so")
    desk.clock.advance(3 * DAY)
    assert desk.type("bottle", "left").status == 0
