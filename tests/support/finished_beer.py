"""A finished beer at the desk: an ale that has been still for a week, with its float and two hydrometer readings."""

import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.support.command_line import CommandLine, Said, command_line

PITCHED = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
DAYS = 14
ALE = ("batch", "open", "Harvest Ale", "--vessel", "left", "--og", "1.052", "--yeast", "clean-ale", "--volume", "18L")


def finished_ale(directory: Path, capture: pytest.CaptureFixture[str]) -> CommandLine:
    """It has been finished for a week at 20 °C."""
    desk = command_line(directory, PITCHED, capture)
    desk.done(*ALE, "--package", "returnable-glass", "--volumes", "2.4", "--storage", "25C", "--yes")
    finish(desk)
    return desk


def finish(desk: CommandLine) -> None:
    desk.clock.advance(DAYS * 86400)
    instants = {PITCHED + timedelta(minutes=30 * step): step / 48 for step in range(1, DAYS * 48)}
    desk.hear("left-beer", dict.fromkeys(instants, 19.5))  # the probe is calibrated by +0.5
    desk.hear("left-float", {at: 1.0115 + 0.0405 / (1 + math.exp((day - 2) * 2.5)) for at, day in instants.items()})
    desk.done("measure", "left", "hydrometer", "1.0115", "--degassed", "--at", "2026-03-14 18:30", "--yes")


def flat(said: Said) -> str:
    return " ".join(said.text.split())
