"""A whole ferment with a story: hot in its second day, dry hopped, crashed, bottled, tasted; with its alarm, and a name
that somebody chose who means harm.
"""

import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.contracts.store import JournalEntry
from tests.support.command_line import CommandLine, command_line
from tests.support.stores import open_writer

PITCHED = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
HARM = "<script>alert(1)</script><img src=x onerror=alert(1)>&quot;\"'"


def day_of(number: float) -> datetime:
    return PITCHED + timedelta(days=number)


def beer_c(day: float) -> float:
    """As its probe reads it, half a degree too cold: warm in the second day, let down into a crash on the tenth."""
    warm = 3.2 * math.exp(-(((day - 1.6) / 0.45) ** 2))
    crashed = 0.0 if day < 10.0 else min((day - 10.0) * 18.0, 15.0)
    return 18.6 + warm + 0.15 * math.sin(day * 20.0) - crashed


def gravity_sg(day: float) -> float:
    """As the float reads it, a point and a half too high."""
    return 1.0130 + 0.0400 / (1 + math.exp((day - 2.2) * 1.9)) + 0.0002 * math.sin(day * 31.0)


def ferment(
    directory: Path,
    capture: pytest.CaptureFixture[str],
    *,
    name: str = "Harvest Ale",
    days: float = 14,
    crashed: bool = True,
) -> CommandLine:
    """Heard and told of until so many days after the pitch; bottled on the thirteenth."""
    desk = command_line(directory, PITCHED, capture)
    words = (
        "--yeast",
        "clean-ale",
        "--volume",
        "18L",
        "--package",
        "returnable-glass",
        "--volumes",
        "2.4",
        "--storage",
        "20C",
    )
    desk.done("batch", "open", name, "--vessel", "left", "--og", "1.052", *words, "--yes")
    desk.clock.advance(timedelta(days=days).total_seconds())
    instants = {day_of(step / 96): step / 96 for step in range(1, round(min(days, 13.0) * 96))}
    desk.hear("left-beer", {at: beer_c(day if crashed else min(day, 9.9)) for at, day in instants.items()})
    desk.hear("left-float", {at: gravity_sg(day) for at, day in instants.items()})
    with open_writer(directory, "home", desk.clock.now(), ballast_bytes=4096) as writer:
        writer.enter(
            [
                JournalEntry(
                    day_of(1.4),
                    "alarm",
                    "vessel:left",
                    "temperature-high raised (warning): beer 21.8 °C, above 18–21 °C",
                ),
                JournalEntry(
                    day_of(1.7), "alarm", "vessel:left", f"temperature-high escalated (critical): beer 22.9 °C {name}"
                ),
                JournalEntry(day_of(2.3), "alarm", "vessel:left", "temperature-high cleared (warning): beer 20.4 °C"),
                JournalEntry(
                    day_of(6.0), "alarm", "probe:left-float", "probe-silent raised (warning): nothing heard for 3 h"
                ),
                JournalEntry(day_of(6.2), "alarm", "probe:left-float", "probe-silent cleared (warning): heard again"),
                JournalEntry(
                    day_of(6.2), "alarm", "vessel:right", "temperature-high raised (warning): of another beer"
                ),
            ]
        )
    _say(desk, days, crashed=crashed)
    return desk


def _say(desk: CommandLine, days: float, *, crashed: bool) -> None:
    said = [
        (1.6, ("note", "left", "remark", "cooled by wet towels")),
        (5.0, ("add", "left", "dry-hop", "--grams", "60")),
        (7.5, ("measure", "left", "hydrometer", "1.0120", "--sample", "20C", "--degassed", "--even-so")),
        (9.5, ("measure", "left", "hydrometer", "1.0115", "--sample", "20C", "--degassed", "--even-so")),
        (9.6, ("note", "left", "diacetyl-test", "--passed")),
        (10.0, ("note", "left", "crash", "--target", "4C", "--even-so")),
        (12.7, ("measure", "left", "hydrometer", "1.0115", "--sample", "20C", "--degassed", "--even-so")),
        (12.9, ("note", "left", "taste", f"of orange peel {HARM}")),
    ]
    for day, words in said:
        if day < days and (crashed or words[2] != "crash"):
            desk.done(*words, "--at", f"{day_of(day):%Y-%m-%dT%H:%M:%SZ}", "--yes")
