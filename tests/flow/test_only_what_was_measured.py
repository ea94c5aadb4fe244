"""What `status`, `bottle` and `batch show` say of a beer: only what was measured, and one next step."""

import math
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.support.command_line import CommandLine, command_line

PITCHED = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
HOUR = 3600.0
DAY = 24 * HOUR


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    """A batch at 1.057, just pitched."""
    monkeypatch.setenv("COLUMNS", "100")
    desk = command_line(tmp_path / "store", PITCHED, capsys)
    desk.done(
        *("batch", "open", "Harvest Ale", "--vessel", "left", "--og", "1.057", "--yeast", "clean-ale", "--yes"),
        *("--volume", "18L", "--package", "returnable-glass", "--volumes", "2.2", "--storage", "20C"),
    )
    return desk


def flat(text: str) -> str:
    return " ".join(text.split())


def measure(desk: CommandLine, gravity: str, *words: str) -> None:
    desk.done("measure", "left", "hydrometer", gravity, "--sample", "20C", "--degassed", "--even-so", "--yes", *words)


def hear_beer(desk: CommandLine, hours: float, celsius: Callable[[float], float] = lambda _hour: 19.0) -> None:
    """The beer's thermometer, every half hour of the last `hours`; it reads half a degree low."""
    now = desk.clock.now()
    steps = range(round(hours * 2))
    desk.hear("left-beer", {now - timedelta(hours=step / 2.0): celsius(step / 2.0) - 0.5 for step in steps})


def status(desk: CommandLine) -> str:
    with desk.watched():
        return flat(desk.type("status").text)


def test_a_gravity_that_nobody_measured_is_not_shown_as_if_somebody_had(desk: CommandLine) -> None:
    desk.clock.advance(2 * DAY)
    measure(desk, "1.0327")
    desk.clock.advance(5 * DAY)
    said, bottle = status(desk), flat(desk.type("bottle", "left").text)
    for text in (said, bottle):
        assert "0.990" not in text
        assert "118" not in text
    assert "Gravity 1.033, by hydrometer 5 days ago" in said
    assert "apparent attenuation 43%" in bottle
    assert "met still" not in bottle.replace("not met still", "")
    assert "nothing tells whether it falls now" in bottle
    shown = flat(desk.type("batch", "show", "left").text)
    assert "1.033 by hydrometer" in shown
    assert "estimated for now 1.0" in shown


def test_of_a_batch_with_nothing_but_its_original_gravity_nothing_is_made_up(desk: CommandLine) -> None:
    desk.clock.advance(4 * DAY)
    said, bottle = status(desk), flat(desk.type("bottle", "left").text)
    for text in (said, bottle):
        assert "othing was heard since the pitch" in text
        for invented in ("lag", "steady", "any time now", "done in", "attenuated", "falling"):
            assert invented not in text.replace("fermwatch", ""), invented
    assert "Has it started? Look for signs of life" in bottle
    desk.done("note", "left", "signs-of-life", "--yes")
    assert "something was noted on 5 Mar" in flat(desk.type("bottle", "left").text)


def test_what_the_thermometer_did_not_tell_is_not_cold(desk: CommandLine) -> None:
    desk.clock.advance(9 * DAY)
    measure(desk, "1.012")
    hear_beer(desk, 28.0)
    bottle = flat(desk.type("bottle", "left").text)
    assert "heard for only" in bottle
    assert "of the last 72 h" in bottle
    assert "% of the last" not in bottle


def settled(desk: CommandLine) -> None:
    """A forced ferment that ended at 1.0110, and two equal readings a day apart, in beer that is warm."""
    desk.clock.advance(6 * DAY)
    desk.done("note", "left", "forced-ferment", "--gravity", "1.011", "--sample", "20C", "--kept-at", "25C", "--yes")
    desk.clock.advance(2 * DAY)
    measure(desk, "1.012")
    desk.clock.advance(25 * HOUR)
    measure(desk, "1.012")
    hear_beer(desk, 9 * 24.0)


def test_a_forced_ferment_and_two_equal_readings_settle_it(desk: CommandLine) -> None:
    settled(desk)
    bottle = desk.type("bottle", "left")
    assert "two equal hydrometer readings" in flat(bottle.text)
    assert "not met" not in bottle.text
    assert bottle.status == 0


def test_a_safe_that_stands_asks_for_no_waiting(desk: CommandLine) -> None:
    settled(desk)
    desk.clock.advance(9 * DAY)
    bottle = desk.type("bottle", "left")
    assert bottle.status == 0
    assert "not met" not in bottle.text
    assert "Wait" not in bottle.text
    assert "as found on" in flat(bottle.text)
    assert "Next: Bottle it" in flat(bottle.text)


def test_a_failed_warm_sample_test_says_when_to_test_again(desk: CommandLine) -> None:
    settled(desk)
    desk.done("note", "left", "diacetyl-test", "--failed", "--yes")
    bottle = flat(desk.type("bottle", "left").text)
    assert (
        "Next on Thu 20:00 (in about 2 days): The warmed sample smelt of butter: give it two more warm days" in bottle
    )


def test_two_readings_that_contradict_each_other_are_not_averaged(desk: CommandLine) -> None:
    desk.clock.advance(8 * DAY)
    measure(desk, "1.026")
    desk.clock.advance(60.0)
    measure(desk, "1.011")
    bottle = flat(desk.type("bottle", "left").text)
    assert "the readings contradict each other: hydrometer 1.0260 on 9 Mar 19:00, hydrometer 1.0110" in bottle
    desk.clock.advance(HOUR)
    measure(desk, "1.0115")
    assert "contradict" not in flat(desk.type("bottle", "left").text)


def test_a_reading_of_a_minute_ago_is_not_said_to_be_hours_old(desk: CommandLine) -> None:
    desk.clock.advance(9 * DAY + HOUR)
    measure(desk, "1.012")
    desk.clock.advance(60.0)
    assert "hydrometer 1.0120 on 10 Mar 20:00" in flat(desk.type("bottle", "left").text)


def test_a_probe_that_reads_lower_than_the_hydrometer_is_said_to(desk: CommandLine) -> None:
    now = desk.clock.now()
    fall = [min(hour * 0.7, 45.0) for hour in range(240)]
    desk.clock.advance(10 * DAY)
    values = {now + timedelta(hours=hour): 1.057 - (fell + hour / 24.0) / 1000.0 for hour, fell in enumerate(fall)}
    desk.hear("left-float", values)
    hear_beer(desk, 240.0)
    for day in (6, 8, 9):
        measure(desk, "1.012", "--at", f"2026-03-{day + 1:02d} 19:00")
    assert "the probe reads 10 points lower than the hydrometer says" in status(desk)


def test_of_a_lager_that_slows_butter_in_the_warmed_sample_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing said it, in `bottle` and in `status`, until the beer had finished: when it may be cold already."""
    monkeypatch.setenv("COLUMNS", "100")
    desk = command_line(tmp_path / "lager", PITCHED, capsys)
    lager = ("--vessel", "left", "--og", "1.050", "--yeast", "lager", "--volume", "18L", "--yes")
    desk.done("batch", "open", "Cellar Lager", *lager, "--package", "returnable-glass", "--volumes", "2.4")
    hours = range(2, 9 * 24)
    desk.clock.advance(9 * DAY)
    at = {hour: PITCHED + timedelta(hours=hour) for hour in hours}
    desk.hear("left-float", {at[hour]: 1.013 + 0.037 * math.exp(-max(hour - 20, 0) / 80.0) for hour in hours})
    desk.hear("left-beer", {at[hour]: 11.5 for hour in hours})
    desk.done("note", "left", "diacetyl-test", "--failed", "--yes")
    for said in (status(desk), flat(desk.type("bottle", "left").text)):
        assert "lowing" in said or "slows" in said
        assert re.search(r"Meanwhile: The warmed sample smelt of butter: keep it warm", said), said
        assert re.search(r"and test again on \d+ Mar \d\d:\d\d, before it is cold\. (?!\()", said), "no other's time"
