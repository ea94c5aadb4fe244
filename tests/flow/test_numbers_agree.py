"""The numbers of one screen belong together: what is shown was measured, and what is reckoned from it says so."""

import math
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.model.amounts import plain
from fermwatch.model.finding import Phase
from fermwatch.model.judgement import Judgement, PhaseStatement, Trend
from fermwatch.saying.measured import judged_rate
from tests.support.command_line import CommandLine, command_line

PITCHED = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
MINUTE = 60.0
HOUR = 3600.0
DAY = 24 * HOUR


@pytest.fixture
def open_batch(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Callable[[str], CommandLine]:
    """A beer of this original gravity, just pitched."""
    monkeypatch.setenv("COLUMNS", "100")

    def opened(original: str) -> CommandLine:
        desk = command_line(tmp_path / "store", PITCHED, capsys)
        desk.done(
            *("batch", "open", "Harvest Ale", "--vessel", "left", "--og", original, "--yeast", "clean-ale", "--yes"),
            *("--volume", "18L", "--package", "returnable-glass", "--volumes", "2.4", "--storage", "20C"),
        )
        return desk

    return opened


def flat(text: str) -> str:
    return " ".join(text.split())


def status(desk: CommandLine) -> str:
    with desk.watched():
        return flat(desk.type("status").text)


def shown(desk: CommandLine) -> str:
    with desk.watched():
        return flat(desk.type("batch", "show", "left").text)


def measure(desk: CommandLine, instrument: str, gravity: str, *words: str) -> None:
    sample = ("--sample", "20C") if instrument == "hydrometer" else ()
    desk.done("measure", "left", instrument, gravity, *sample, "--even-so", "--yes", *words)


def float_says(desk: CommandLine, gravity_sg: float, *, minutes: int = 0) -> None:
    now = desk.clock.now()
    desk.hear("left-float", {now - timedelta(minutes=one): gravity_sg for one in range(minutes, -1, -1)})


def test_a_probe_heard_for_minutes_is_not_denied(open_batch: Callable[[str], CommandLine]) -> None:
    desk = open_batch("1.048")
    desk.clock.advance(5 * DAY + 17 * HOUR + 9 * MINUTE)
    float_says(desk, 1.020, minutes=8)
    for said in (status(desk), flat(desk.type("bottle", "left").text)):
        assert "othing was heard" not in said
        assert "no gravity was measured" not in said
        assert "Has it started?" not in said
        assert "first heard today 12:01; judged once some hours are heard" in said.replace("7 Mar 12:01", "today 12:01")
    assert "Gravity 1.020" in status(desk)


def test_once_signs_of_life_were_noted_nobody_is_asked_to_look_for_them(
    open_batch: Callable[[str], CommandLine],
) -> None:
    desk = open_batch("1.048")
    desk.clock.advance(12 * HOUR)
    desk.hear_steady("left-float", 1.048, hours=12.0)
    assert "Look for signs of life" in status(desk)
    desk.done("note", "left", "signs-of-life", "--yes")
    assert "Look for signs of life" not in status(desk)


def test_the_gravity_shown_is_one_that_was_measured(open_batch: Callable[[str], CommandLine]) -> None:
    desk = open_batch("1.048")
    desk.clock.advance(11 * HOUR + 58 * MINUTE)
    float_says(desk, 1.033)
    desk.clock.advance(3 * MINUTE)
    said, batch = status(desk), shown(desk)
    assert "Gravity 1.033" in said
    assert "apparent attenuation 31%" in said
    assert "1.033" in batch
    assert "31% attenuated" in batch
    for text in (said, batch):
        assert "1.043" not in text
        assert not ("falling" in text and "not begun to fall" in text)
    assert "is silent" not in flat(desk.type("bottle", "left").text)


def attenuations(desk: CommandLine) -> dict[str, set[str]]:
    """The percentages that each command calls attenuation."""
    told = {"status": status(desk), "show": shown(desk), "bottle": flat(desk.type("bottle", "left").text)}
    found = {name: re.findall(r"attenuation (\d+)%(?! to|–)|(\d+)% attenuated", text) for name, text in told.items()}
    return {name: {one or other for one, other in pairs} for name, pairs in found.items()}


def test_attenuation_is_one_number_where_sugar_went_in_after_the_reading(
    open_batch: Callable[[str], CommandLine],
) -> None:
    """It was 8 % by `status`, 7 % by `bottle`, and 4 % as it was measured."""
    desk = open_batch("1.048")
    desk.clock.advance(2 * DAY)
    told = flat(desk.done("measure", "left", "hydrometer", "1.046", "--sample", "20C", "--degassed", "--yes").text)
    assert "4% apparent attenuation" in told
    desk.clock.advance(HOUR)
    desk.done("add", "left", "sugar", "--grams", "500", "--yes")  # 10.7 points
    for hours in (0.1, 5.0, 24.0):
        desk.clock.advance(hours * HOUR)
        found = attenuations(desk)
        assert found["status"] == found["show"] == {"4"}, hours
        assert found["bottle"] <= {"4"}, hours  # which says that no reading tells since
    told = flat(desk.done("measure", "left", "hydrometer", "1.040", "--sample", "20C", "--degassed", "--yes").text)
    assert "32% apparent attenuation" in told  # from 1.0587
    assert attenuations(desk) == {key: {"32"} for key in ("status", "show", "bottle")}


def test_attenuation_is_one_number_where_a_float_is_read_beside_a_hydrometer(
    open_batch: Callable[[str], CommandLine],
) -> None:
    """A hydrometer's reading of 85 % was 86 % where it was judged, by the float a fraction of a point below."""
    desk = open_batch("1.050")
    instants = [PITCHED + timedelta(minutes=30 * step) for step in range(9 * 48)]
    days = [(at - PITCHED) / timedelta(days=1) for at in instants]
    fallen = {at: 1.0067 + 0.0433 / (1 + math.exp((day - 2) * 2.5)) for at, day in zip(instants, days, strict=True)}
    desk.clock.advance(7 * DAY)
    measure(desk, "hydrometer", "1.0065", "--degassed")
    desk.clock.advance(2 * DAY)
    desk.hear("left-float", fallen)
    told = flat(desk.done("measure", "left", "hydrometer", "1.0076", "--degassed", "--even-so", "--yes").text)
    assert "85% apparent attenuation" in told
    assert attenuations(desk) == {key: {"85"} for key in ("status", "show", "bottle")}


def test_attenuation_is_that_of_the_gravity_shown(open_batch: Callable[[str], CommandLine]) -> None:
    desk = open_batch("1.050")
    desk.clock.advance(8 * DAY)
    measure(desk, "hydrometer", "1.012", "--degassed")
    desk.clock.advance(HOUR)
    measure(desk, "refractometer", "7.2Bx")
    said, bottle = status(desk), flat(desk.type("bottle", "left").text)
    assert "Gravity 1.012, by hydrometer" in said
    assert "apparent attenuation 76%" in said
    assert "attenuation 76% at 1.012 by hydrometer" in bottle


def test_a_gassy_reading_meets_nothing(open_batch: Callable[[str], CommandLine]) -> None:
    desk = open_batch("1.050")
    desk.clock.advance(8 * DAY)
    measure(desk, "hydrometer", "1.010")
    bottle = flat(desk.type("bottle", "left").text)
    assert "met attenuation" not in bottle.replace("not met attenuation", "")
    assert "not degassed" in bottle


def test_a_refractometer_far_from_yesterdays_hydrometer_is_doubted(open_batch: Callable[[str], CommandLine]) -> None:
    desk = open_batch("1.050")
    desk.clock.advance(8 * DAY)
    measure(desk, "hydrometer", "1.012", "--degassed")
    desk.clock.advance(13 * HOUR)
    doubted = desk.type("measure", "left", "refractometer", "9.5Bx", "--yes")
    assert "above the hydrometer's 1.0120" in flat(doubted.text + doubted.error)


def test_a_forced_ferment_is_asked_of_wort_only_at_the_pitch(open_batch: Callable[[str], CommandLine]) -> None:
    desk = open_batch("1.048")
    late = desk.type(
        *("batch", "open", "Cellar Bitter", "--vessel", "right", "--og", "1.048", "--yeast", "clean-ale", "--yes"),
        *("--pitched-at", "2026-02-11 18:00"),
    )
    assert "now, with plenty of the same yeast" not in flat(late.text)
    assert "0.25 L of the beer with fresh, active yeast" in flat(late.text)


def test_one_way_of_saying_a_rate(open_batch: Callable[[str], CommandLine]) -> None:
    """A beer that stands too high is steady on every screen, or on none."""
    desk = open_batch("1.048")
    began = desk.clock.now()
    desk.clock.advance(9 * DAY)
    stops = [1.048 - min(0.0005 * hour, 0.020) + 0.0003 * math.sin(7.0 * hour) for hour in range(9 * 24 + 1)]
    desk.hear("left-float", {began + timedelta(hours=hour): value for hour, value in enumerate(stops)})
    said, bottle, batch = status(desk), flat(desk.type("bottle", "left").text), shown(desk)
    paces = [re.findall(r"steady \(within [\d.]+ points/day\)", text) for text in (said, bottle, batch)]
    assert all(paces), (said, bottle, batch)
    assert len({pace for found in paces for pace in found}) == 1
    for text in (said, bottle, batch):
        assert "falling" not in text


def test_of_a_float_that_reads_ten_points_low_all_say_one_attenuation(open_batch: Callable[[str], CommandLine]) -> None:
    """`status` said 98 % and "rising about 0.9 points/day", `bottle` 79 % and not a word of the float."""
    desk = open_batch("1.052")
    desk.clock.advance(12 * DAY)
    halves = {PITCHED + timedelta(minutes=30 * step): step / 48 for step in range(1, 12 * 48)}
    noise = (-0.0004, 0.0003, 0.0001)
    falls = {at: 1.0112 + 0.0408 / (1 + math.exp((day - 2) * 2.5)) for at, day in halves.items()}
    desk.hear("left-float", {at: sg - 0.010 + noise[place % 3] for place, (at, sg) in enumerate(falls.items())})
    desk.hear("left-beer", dict.fromkeys(halves, 19.0))
    for day in (11, 13):
        measure(desk, "hydrometer", "1.0112", "--degassed", "--at", f"2026-03-{day} 18:00")
    low = "he probe reads 10 points lower than the hydrometer says"
    texts = (status(desk), shown(desk), flat(desk.type("bottle", "left").text))
    for text in texts:
        assert low in text
        assert "rising" not in text
    told = {one for text in texts for one in re.findall(r"\d+(?=% attenuated)|(?<=attenuation )\d+(?=%[^–])", text)}
    assert told in ({"78"}, {"79"})


def test_one_range_of_attenuation_where_sugar_is_in_the_wort(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One page said 72 to 82 % and another 78 to 87 %, without a word on why; so ended its gravity."""
    monkeypatch.setenv("COLUMNS", "200")
    desk = command_line(tmp_path / "store", PITCHED, capsys)
    wort = ("--og", "1.060", "--yeast", "clean-ale", "--attenuation", "72-82", "--adjunct", "sucrose=20g/L")
    desk.done("batch", "open", "Sweet", "--vessel", "left", *wort, "--volume", "20L", "--yes")
    desk.clock.advance(86_400.0)
    desk.done("measure", "left", "hydrometer", "1.040", "--sample", "20C", "--degassed", "--even-so", "--yes")
    shown, judged = (flat(desk.type(*words).text) for words in (("batch", "show", "left"), ("bottle", "left")))
    assert "78%–87% apparent, counting what is in it beside malt (72%–82% of malt alone)" in shown
    assert "expected end 1.008–1.013" in shown
    assert "its range, counting what is in it beside malt, is 78% to 87%" in judged
    assert "the yeast's range is 7" not in judged


def test_a_beer_that_slows_is_not_called_steady_beside_that() -> None:
    trend = Trend(PITCHED, 1.014, 0.5, -0.2, 0.3, 0.73)
    for phase, said in ((Phase.SLOWING, "hardly falling any more (within 0.7"), (Phase.TERMINAL, "steady (within 0.7")):
        assert said in plain(judged_rate(Judgement(PITCHED, trend, PhaseStatement(phase, PITCHED))))
