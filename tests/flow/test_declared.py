"""A rest, ramp or crash as a person declares it: typed, questioned, kept, shown, and ended early."""

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fermwatch.model.batch import EventKind
from fermwatch.model.finding import Phase
from fermwatch.model.judgement import Judgement, PhaseStatement, Trend
from fermwatch.replaying.replay import run
from fermwatch.report.status import status_text
from tests.support.command_line import CommandLine, command_line
from tests.support.stores import open_feed, open_writer

NOW = datetime(2026, 3, 11, 18, 30, tzinfo=UTC)  # 19:30 in Vienna, a Wednesday
LAGER = (
    *("batch", "open", "Cellar Gold", "--vessel", "left", "--og", "1.050", "--yeast", "lager", "--temperature", "8-14"),
    *("--volume", "18L", "--pitched-at", "2026-03-04 18:00", "--yes"),
)


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setenv("COLUMNS", "100")
    desk = command_line(tmp_path / "store", NOW, capsys)
    desk.done(*LAGER)
    desk.hear_steady("left-beer", 11.5)  # calibrated by +0.5
    judge(desk, Phase.SLOWING, 0.55)
    return desk


def judge(desk: CommandLine, phase: Phase, attenuation: float) -> None:
    """Let the watcher have judged it so."""
    writer = open_writer(desk.directory, "home", NOW, ballast_bytes=4096)
    (batch,) = writer.batches()
    trend = Trend(NOW, 1.050 - 0.050 * attenuation, 0.5, -4.0, 0.3, attenuation)
    writer.save_judgement(batch.id, Judgement(NOW, trend, PhaseStatement(phase, NOW)))
    writer.close()


def status(desk: CommandLine) -> str:
    feed = open_feed(desk.directory, "home")
    try:
        return " ".join(status_text(feed.snapshot(desk.clock.now()), 100).split())
    finally:
        feed.close()


def told(text: str) -> str:
    return " ".join(text.replace("\n!", " ").split())


def test_a_rest_is_declared_shown_and_ended_early(desk: CommandLine) -> None:
    said = desk.done("note", "left", "rest", "--target", "17C", "--until", "3d")
    assert "rest at 17.0 °C until Sat 19:30" in said.text
    promised = (
        "16–18 °C is its range, and 8–18 °C on its way there, until 13 Mar 19:30; outside of that is still an alarm"
    )
    assert promised in told(said.text)
    assert "Planned rest at 17.0 °C until Sat 19:30." in status(desk)
    assert "within the way to the planned rest 8–18 °C" in status(desk)
    assert "rest at 17.0 °C until Sat 19:30" in desk.type("batch", "show", "left").text
    desk.clock.advance(60.0)
    desk.done("note", "left", "back-to-range")
    assert "within the yeast's range 8–14 °C" in status(desk)
    assert "Planned" not in status(desk)


def test_a_rest_declared_over_a_beer_that_runs_hot_hides_none_of_the_heat(desk: CommandLine) -> None:
    """What is promised is what is applied: 24 to 26 °C was said, and 29.5 °C let pass."""
    desk.clock.advance(8 * 3600.0)
    desk.hear_steady("left-beer", 28.0, hours=7.0)  # calibrated by +0.5
    said = told(desk.done("note", "left", "rest", "--target", "25C", "--yes", "--even-so").text)
    assert "24–26 °C is its range, and 8–26 °C on its way there" in said
    assert "At 28.5 °C it is above that now, and stays an alarm" in said
    desk.clock.advance(60.0)
    desk.hear("left-beer", {desk.clock.now(): 28.0})
    with desk.watched():
        assert "above the way to the planned rest 8–26 °C" in status(desk)
        with desk.reader() as reader:
            heat = next(alarm for alarm in reader.alarms() if alarm.rule == "temperature-high")
        assert heat.suppressed_by == ""


def test_it_is_withdrawn_by_voiding_it(desk: CommandLine) -> None:
    desk.done("note", "left", "rest", "--target", "17C")
    assert "Planned rest at 17.0 °C." in status(desk)
    with desk.reader() as reader:
        (event,) = reader.events(reader.batches()[0].id)
    desk.done("note", "void", event.id, "--yes")
    assert "Planned" not in status(desk)


@pytest.mark.parametrize(
    ("until", "ends"),
    [
        ("36h", "Fri 07:30"),
        ("2026-03-14", "Sun 00:00"),
        ("2026-03-14 12:00", "Sat 12:00"),
        ("21:00", "today 21:00"),
        ("07:00", "tomorrow 07:00"),
        ("tomorrow 20:00", "tomorrow 20:00"),
    ],
)
def test_its_end_is_said_as_people_say_it(desk: CommandLine, until: str, ends: str) -> None:
    assert f"until {ends}" in desk.done("note", "left", "rest", "--target", "17C", "--until", until).text


@pytest.mark.parametrize(
    ("words", "error"),
    [
        (("rest",), "At what temperature?"),
        (("rest", "--target", "17C", "--until", "soon"), 'Say "3d", "36h"'),
        (("rest", "--target", "17C", "--until", "2026-03-01"), "--until: 2 Mar 00:00 has passed."),
        (("rest", "--target", "17C", "--until", "400d"), "is too far ahead"),
        (("rest", "--target", "17C", "--until", "25:00"), "--until: '25:00' is no time."),
        (("rest", "--target", "17C", "--by", "3d"), "--by belongs to a ramp"),
        (("ramp", "--target", "2C"), "When should it be there?"),
        (("ramp", "--target", "2C", "--by", "5d", "--until", "3d"), "over before it is there"),
        (("back-to-range",), "the yeast's range holds already"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_its_remedy(desk: CommandLine, words: tuple[str, ...], error: str) -> None:
    said = desk.type("note", "left", *words)
    assert said.status != 0
    assert error in said.error
    assert desk.attend() == []


def test_a_ramp_knows_where_it_came_from(desk: CommandLine) -> None:
    assert "ramp to 16.0 °C by Sat 19:30" in desk.done("note", "left", "ramp", "--target", "16C", "--by", "3d").text
    with desk.reader() as reader:
        (batch,) = reader.batches()
        (event,) = [one for one in reader.events(batch.id) if one.kind is EventKind.RAMP]
    assert event.data["from_c"] == 12.0


def doubted(desk: CommandLine, doubt: str) -> None:
    """A yes is not enough for it; a yes in spite of the doubt is."""
    said = desk.type("note", "left", "crash", "--target", "2C", "--yes")
    assert said.status != 0
    assert doubt in told(said.text)
    assert "--even-so" in said.error
    assert desk.attend() == []
    desk.done("note", "left", "crash", "--target", "2C", "--yes", "--even-so")


def test_a_crash_before_the_beer_has_finished_needs_more_than_a_yes(desk: CommandLine) -> None:
    doubted(desk, "It has not finished: slowing, 55% attenuated, falling 4 points/day.")


def test_a_crash_on_top_of_fresh_dry_hops_needs_more_than_a_yes(desk: CommandLine) -> None:
    judge(desk, Phase.TERMINAL, 0.76)
    desk.done("add", "left", "dry-hop", "--grams", "60", "--at", "2026-03-10 18:00", "--yes")
    doubted(desk, "Dry hops went in yesterday: what they set free needs at least 5 warm days to ferment")


def test_a_crash_after_a_failed_warm_sample_needs_more_than_a_yes(desk: CommandLine) -> None:
    judge(desk, Phase.TERMINAL, 0.76)
    desk.done("note", "left", "diacetyl-test", "--failed", "--yes")
    doubted(desk, "The last warm-sample test failed")


def test_a_crash_in_time_prompts_for_suck_back_and_the_warm_sample(desk: CommandLine) -> None:
    judge(desk, Phase.TERMINAL, 0.76)
    said = told(desk.done("note", "left", "crash", "--target", "2C", "--yes").text)
    assert "5.0 L of headspace shrinks by 0.2 L from 12 °C to 2 °C" in said
    assert "balloon or CO2" in said
    assert "Warm-sample test" in said
    desk.done("note", "left", "diacetyl-test", "--passed", "--yes")
    assert "Warm-sample test" not in desk.type("note", "left", "crash", "--yes").text


@pytest.mark.parametrize(
    ("attenuation", "target", "doubt"),
    [(0.55, "24C", "warmer than a rest of this yeast goes: 20.0 °C at the most"), (0.2, "17C", "Only 20% of about 7")],
)
def test_a_rest_too_hot_or_too_early_is_questioned(
    desk: CommandLine, attenuation: float, target: str, doubt: str
) -> None:
    judge(desk, Phase.ACTIVE, attenuation)
    said = desk.type("note", "left", "rest", "--target", target, "--yes")
    assert said.status != 0
    assert doubt in told(said.text)
    assert "--even-so" in said.error


LOG = Path(__file__).resolve().parents[1] / "reference" / "judgement" / "logs" / "example02.csv"
BATCH = """\
name = "Invented lager"
og_sg = 1.0614
pitched_at = 2026-03-12T19:45:00Z
volume_l = 19.0
[yeast]
temperature_c = [8.0, 14.0]
attenuation = [0.72, 0.80]
lag_max_h = 60
"""
REST = """\
[[event]]
at = 2026-03-16T20:00:00Z
kind = "rest"
target_c = 15.0
until = 2026-04-12T00:00:00Z
"""


@pytest.mark.parametrize("declared", [True, False])
def test_a_lagers_diacetyl_rest_of_weeks_in_a_log(tmp_path: Path, declared: bool) -> None:
    """It was one alarm of heat from day 4 to day 30. Declared it calls nobody; undeclared it is asked about once."""
    batch, written = tmp_path / "lager.toml", list[str]()
    batch.write_text(BATCH + REST * declared)
    run(LOG, batch, True, written.append)
    raised = [one for one in map(json.loads, written) if one["event"] == "alarm" and one["state"] == "raised"]
    warm = [one for one in raised if one["rule"] in {"temperature-high", "looks-like-rest"}]
    if declared:
        assert [(one["rule"], one["quiet_because"]) for one in warm] == [("temperature-high", "planned rest")]
    else:
        assert [one["rule"] for one in warm if not one["quiet_because"]] == ["looks-like-rest"]
        assert "fermwatch note" in warm[-1]["remedy"]
