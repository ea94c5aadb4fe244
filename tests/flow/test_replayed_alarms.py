"""What `fermwatch replay` tells of an alarm: each change that a person would have been told of."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.cli import main

PITCHED = datetime(2026, 3, 1, 18, tzinfo=UTC)


@pytest.fixture
def words(tmp_path: Path) -> tuple[str, ...]:
    """Pitched at 25 °C into a room that cools it for six hours and then no more; on the third day it runs away."""
    log, batch = tmp_path / "log.csv", tmp_path / "batch.toml"
    rows = ["time,probe,quantity,value"]
    for minute in range(5, 96 * 60, 10):
        hour = minute / 60
        beer_c = max(25.0 - 0.25 * hour, 23.5) + (min((hour - 60) / 2, 4.0) if hour > 60 else 0.0)
        rows.append(f"{PITCHED + timedelta(minutes=minute):%Y-%m-%dT%H:%M:%SZ},T1,temperature_C,{beer_c:.2f}")
    log.write_text("\n".join([*rows, ""]))
    batch.write_text(f'name = "Amber"\nog_sg = 1.05\npitched_at = {PITCHED:%Y-%m-%dT%H:%M:%SZ}\nyeast = "clean-ale"\n')
    return "replay", str(log), "--batch", str(batch)


def test_an_alarm_that_speaks_up_and_one_that_grows_graver_are_told(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*words, "--json"]) == 0
    told = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    heat = [line for line in told if line.get("rule") == "temperature-high"]
    assert [line["state"] for line in heat] == ["raised", "no longer quiet", "escalated"]
    raised, spoken, graver = heat
    assert "pitched outside the range and moving toward it" in raised["quiet_because"]
    assert spoken["quiet_because"] == ""
    assert spoken["severity"] == "warning"
    assert spoken["remedy"]
    assert graver["severity"] == "critical"
    assert raised["at"] < spoken["at"] < graver["at"]


def test_the_story_tells_them_too(words: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(words) == 0
    story = capsys.readouterr().out
    first = story.index("alarm temperature-high raised (quiet: pitched outside the range")
    assert first < story.index("alarm temperature-high no longer quiet: beer 23.") < story.index("escalated, critical:")
