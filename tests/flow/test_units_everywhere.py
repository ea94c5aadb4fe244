"""Three whole beers told, and every command about them, to a reader of °F, °P and gallons: nothing is in °C or SG."""

import asyncio
import re
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.cli import main
from fermwatch.commands.story import Story
from fermwatch.demo import running
from fermwatch.model.amounts import said
from fermwatch.model.batch import Event
from fermwatch.saying.voice import Voice, units_of
from fermwatch_sim.cellar import Written
from fermwatch_sim.scenario import load

UNITS = "us plato"
VOICE = Voice(units_of(UNITS, what="test"))
START = datetime(2026, 3, 7, 9, 0, tzinfo=UTC)
STEP = timedelta(minutes=5)
METRIC = re.compile(r"°C|\b\d+C\b|\d ?L\b|\bbar\b|g/L|\bk?g\b|\blitre|\bm[lL]\b")
RECKONED = (
    "pressure 2.8 --storage 86F",
    "risk --package returnable-glass --volumes 2.4 --warmest 70F --storage 86F",
    "risk --package keg --volumes 2.4 --warmest 70F --storage 86F",
    "priming --volumes 2.4 --warmest 70F --volume 5gal-US",
    "priming --volumes 2.4 --warmest 68F --headspace 5% --sugar sucrose",
    "keg 2.4 --temperature 39F",
    "keg --pressure 12psi",
    "heat 1.052 1.010 --volume 5gal-US",
    "left 1.052 1.014 1.010",
    "alcohol 1.052 1.010",
    "hydrometer 1.012 --sample 77F",
    "refractometer 6.2Bx --original-brix 12.4 --sample 77F",
    # What is asked back, with an example of how to type it.
    "priming --volumes 2.4",
    "risk --package returnable-glass",
    "keg",
)
# Two days of an invented cellar know nothing of these: typed beside it, each is answered with an example.
ASKED_BACK = (
    ("note", "left", "stands-at"),
    ("note", "left", "rest"),
    ("note", "left", "forced-ferment"),
    ("note", "left", "blend"),
    ("add", "left", "blend"),
    ("measure", "left"),
    ("plan", "change", "left"),
    ("plan", "use", "left", "--steps", "64"),
    ("batch", "show", "nowhere"),
    ("batch", "open", "Porch Ale", "--vessel", "spare"),
)
IN_OTHER_UNITS = re.compile(r"°C|\b0\.99\d|\b1\.[01]\d\d\b|\d points?\b|\d ?L\b|\d bar\b|\b\d+C\b|g/L|\bm[lL]\b")
ABOUT_THEM = (
    ("status",),
    ("alarms",),
    ("alarms", "--journal"),
    ("batch", "list"),
    ("batch", "show", "left"),
    ("batch", "show", "right"),
    ("batch", "yeasts"),
    ("bottle", "left"),
    ("bottle", "middle", "--package", "returnable-glass", "--volumes", "2.4"),
    ("bottle", "right", "--package", "keg"),
    ("measure", "list", "left"),
    ("measure", "left", "hydrometer", "3.1P", "--sample", "68", "--degassed"),
    ("note", "left", "crash", "--target", "36"),
    ("note", "left", "forced-ferment", "--gravity", "2.5P", "--kept-at", "77"),
    ("note", "list", "left"),
    ("add", "left", "blend", "--volume", "1"),
    ("batch", "edit", "left", "--volume", "5"),
    ("batch", "package", "left", "--package", "returnable-glass", "--volumes", "2.4"),
)


def wrong(text: str, own_words: Iterable[str]) -> list[str]:
    """Where it is in other units, with what stands around it; a person's own words stay as they were said."""
    told = " ".join(text.split())
    for words in own_words:
        told = told.replace(" ".join(words.split()), "")
    return [told[max(found.start() - 60, 0) : found.end() + 20] for found in IN_OTHER_UNITS.finditer(told)]


def test_no_word_of_three_beers_is_in_other_units(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("FERMWATCH_UNITS", UNITS)
    told: list[str] = []
    scenario = load("demo")
    story = Story(scenario, START, lambda text: told.append(said(text, VOICE.said)), VOICE.units)
    pace = running.Pace(STEP, None, START + timedelta(hours=scenario.length_h))
    noted: list[str] = []

    def wrote(entry: Written) -> None:
        story.wrote(entry)
        noted.append(entry.written.text if isinstance(entry.written, Event) else "")

    audience = running.Audience(begins=story.begin, changed=story.changed, wrote=wrote)
    asyncio.run(running.run(scenario, tmp_path, START, pace, audience))
    story.end(tmp_path)
    assert any("°F" in line for line in told)
    assert wrong("\n".join(told), noted) == []
    for words in (*ABOUT_THEM, *ASKED_BACK):
        capsys.readouterr()
        main(["--store", str(tmp_path), "--site", running.SITE, *words])
        shown = capsys.readouterr()
        found = wrong(shown.out + shown.err, noted)
        assert found == [], " ".join(words)


@pytest.mark.parametrize("words", RECKONED)
def test_what_is_reckoned_for_who_measures_in_gallons_is_in_nothing_else(
    words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["--units", "us", "calc", *words.split()])
    shown = capsys.readouterr()
    assert shown.out + shown.err != ""
    assert METRIC.findall(shown.out + shown.err) == []


def test_an_example_is_typed_in_the_readers_units(capsys: pytest.CaptureFixture[str]) -> None:
    main(["--units", "us", "calc", "priming", "--volumes", "2.4"])
    assert "Add --warmest 70F:" in capsys.readouterr().err
    main(["calc", "priming", "--volumes", "2.4"])
    assert "Add --warmest 21C:" in capsys.readouterr().err
