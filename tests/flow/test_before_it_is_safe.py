"""Beer that is packaged before it is safe: what is reckoned on that day, and what is said of it from then on."""

import json
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fermwatch.drawing import packages
from fermwatch.drawing.page import Sheet
from fermwatch.feed.picture import Picture
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
    assert told.index(BURSTS) < told.index(AS_JUDGED) < told.index("No dates, and nothing warmer")
    assert told.count(BURSTS) == 1


def test_it_calls_somebody_and_once_seen_it_is_still_said(bottled: CommandLine) -> None:
    with bottled.watched():
        assert flat(bottled.type("status").text).startswith("home: Fresh Wort needs you.")
    bottled.done("ack", "packaged-too-early")
    with bottled.watched():
        told = flat(bottled.type("status").text)
    assert told.startswith("home: The bottles of Fresh Wort may burst.")
    assert BURSTS in told
    assert AS_JUDGED in told


def test_in_fahrenheit_the_cold_is_too(bottled: CommandLine) -> None:
    told = flat(bottled.type("--units", "us", "bottle", "Fresh Wort").text)
    assert "near 32 °F" in told


def test_programs_are_told_what_was_judged_on_that_day(bottled: CommandLine) -> None:
    known = json.loads(bottled.type("bottle", "Fresh Wort", "--json").text)["conditioning"]
    assert (known["declared_safe"], known["chance_over_limit"]) == (False, 1.0)
    assert 30.0 < known["left_points"] < 42.0


INVITING = ("Open the first", "Ready since", "At its best", "Squeeze", "squeeze", "warm them", "week more", "past its")


def everywhere(desk: CommandLine) -> str:
    """All that is said of a packaged beer: by each command, by the alarms, and by the dashboard's page."""
    with desk.watched(), desk.reader() as reader:
        commands = (("status",), ("batch", "show", "Fresh Wort"), ("batch", "list"), ("bottle", "Fresh Wort"))
        told = [desk.type(*words).text for words in commands]
        told += [f"{alarm.statement} {alarm.remedy}" for alarm in reader.alarms()]
        drawn = packages.lines(Picture(reader, desk.clock.now(), held=True).snapshot(), Sheet(80, 60))
        told += ["".join(span.text for span in line) for line in drawn]
    return flat(" ".join(told)).replace("A PET bottle filled along tells by squeezing", "")


def test_what_may_burst_has_no_dates_anywhere_and_is_not_to_be_warmed(bottled: CommandLine) -> None:
    """Beside the warning stood "Open the first tomorrow", "Still soft on day 7: warm them", "Ready since yesterday"."""
    for days in (0, 4, 7, 30):
        bottled.clock.advance(days * DAY)
        told = everywhere(bottled)
        for inviting in INVITING:
            assert inviting not in told, inviting
        assert "keep cold, open one with care" in told
    with bottled.watched():
        (known,) = json.loads(bottled.type("status", "--json").text)["conditioning"]
    assert known["may_burst"]
    assert [known[date] for date in ("open_at", "best_from", "best_until", "next_at")] == [None] * 4
    assert known["squeeze_at"] == []


def test_the_sheet_of_what_may_burst_gives_no_sugar_no_warmth_and_no_days(desk: CommandLine) -> None:
    """At 99 % it weighed out the sugar, and let it condition at 20 °C for 14 days."""
    told = flat(desk.type("batch", "package", "left", *GLASS).text)
    assert "none is recommended for 2.4 volumes: with what may still ferment, none fits" in told
    assert "MAY BURST: keep it cold" in told
    for inviting in ("condition at 20 °C for", "Weigh the sugar", "open from", "best 20", " g of table sugar"):
        assert inviting not in told, inviting
    as_said = flat(desk.type("batch", "package", "left", *GLASS, "--dose", "5g/L").text)
    assert "90 g of table sugar" in as_said
    assert "Weigh the sugar" not in as_said


def test_sugar_that_nobody_said_is_not_kept_as_if_it_had_gone_in(bottled: CommandLine) -> None:
    with bottled.reader() as reader:
        (batch,) = reader.batches()
        (packed,) = reader.events(batch.id)
    assert "sugar_g_per_l" not in packed.data
    assert "chance over its limit above 99 %" in flat(bottled.type("note", "list", "Fresh Wort").text)


def test_one_opened_cold_and_calm_is_followed_by_another_and_dates_come_after_two_weeks_of_that(
    bottled: CommandLine,
) -> None:
    """Calm in the cold may only mean that it has not fermented yet."""
    bottled.done("note", "Fresh Wort", "opened", "--calm")
    told = everywhere(bottled)
    assert "One was opened cold today, and was calm." in told
    assert "Open one, cold, in a week" in told
    assert "open another, cold on Wed 11 Mar" not in told  # a weekday of more than six days ahead names the date alone
    assert "open another, cold on 11 Mar" in told
    assert "Open the first" not in told
    bottled.clock.advance(8 * DAY)
    assert "Fresh Wort: open another, cold" in everywhere(bottled)
    bottled.done("note", "Fresh Wort", "opened", "--calm")
    bottled.clock.advance(8 * DAY)
    bottled.done("note", "Fresh Wort", "opened", "--calm")
    told = everywhere(bottled)
    assert "Ready since" in told
    assert "may burst" not in told
    assert "warm them" not in told
    assert "week more" not in told


def test_what_gushed_is_vented_and_asked_about_anew(bottled: CommandLine) -> None:
    bottled.done("note", "Fresh Wort", "opened", "--calm")
    bottled.clock.advance(10 * DAY)
    bottled.done("note", "Fresh Wort", "opened", "--gushed")
    told = everywhere(bottled)
    assert "Fresh Wort gushed: the other bottles are as full" in told
    assert "vent every cap, cold" in told
    bottled.clock.advance(DAY)
    bottled.done("note", "Fresh Wort", "vented")
    assert "gushed:" not in everywhere(bottled).replace("--gushed", "")
    bottled.clock.advance(8 * DAY)
    bottled.done("note", "Fresh Wort", "opened", "--calm")
    assert "Ready since" not in everywhere(bottled)


def test_that_one_was_opened_says_how_it_was_and_is_of_packaged_beer_alone(desk: CommandLine) -> None:
    said = desk.type("note", "Fresh Wort", "opened")
    assert (said.status, "Say --calm or --gushed" in said.error) == (2, True)
    said = desk.type("note", "Fresh Wort", "opened", "--calm", "--yes")
    assert said.status != 0
    assert "was not in its package then" in said.error


def test_what_may_still_ferment_is_no_more_than_its_yeast_may(desk: CommandLine) -> None:
    """It said "about 13 points might still ferment", to 0.998, of beer at 1.011 whose forecast was 1.009 to 1.011."""
    for day, gravity in ((5.0, "1.018"), (9.0, "1.0125"), (12.0, "1.0113")):
        desk.clock.advance(day * DAY - (desk.clock.now() - PITCHED).total_seconds())
        desk.done("measure", "left", "hydrometer", gravity, "--degassed", "--yes", "--even-so")
    told = flat(desk.type("batch", "package", "left", *GLASS, "--yes", "--although-not-safe").text)
    assert "may ferment about 2 points still, to 1.009" in told
    desk.attend()
    assert "about 2 points might still ferment" in flat(desk.type("bottle", "Fresh Wort").text)


@pytest.mark.parametrize("gravity", ["1.011", "1.010"])
def test_one_reading_of_a_beer_where_its_yeast_ends_leaves_little(desk: CommandLine, gravity: str) -> None:
    """On day 14 one reading at the end of its range, two days old, left "98 %, about 37 of 38 bottles"."""
    desk.clock.advance(14 * DAY)
    desk.done("measure", "left", "hydrometer", gravity, "--degassed", "--yes")
    desk.clock.advance(2 * DAY)
    assert chance(flat(desk.type("batch", "package", "left", *GLASS).text)) < 60.0


def test_where_no_beer_is_in_the_fermenter_the_packaged_ones_are_named(desk: CommandLine) -> None:
    """It said that several batches were meant."""
    desk.done("batch", "package", "left", *GLASS, "--yes", "--although-not-safe")
    desk.done("batch", "open", "Second Wort", "--vessel", "left", "--og", "1.048", "--yeast", "clean-ale", "--yes")
    desk.done("batch", "package", "left", *GLASS, "--yes", "--although-not-safe")
    for words, where in ((("measure", "left"), "left"), (("bottle",), "any fermenter")):
        refused = flat(desk.type(*words).error)
        assert f"No beer is in {where}. A packaged one is meant by its name:" in refused
        assert '"Fresh Wort"' in refused
        assert '"Second Wort"' in refused
    assert "Second Wort was packaged" in flat(desk.type("bottle", "Second Wort").text)


@pytest.mark.parametrize("minutes", [6.0, 240.0])
def test_wort_that_has_not_fermented_may_hold_no_gas_yet(desk: CommandLine, minutes: float) -> None:
    """Of wort pitched minutes ago it said 0.80 to 0.92 volumes, as of beer that has finished."""
    desk.clock.advance(minutes * 60.0)
    told = flat(desk.type("batch", "package", "left", *GLASS).text)
    assert "CO2 in it now 0.00 to 0.92 volumes" in told
    assert "no fall of its gravity is measured, so that it may hold none yet" in told
    desk.clock.advance(6 * DAY)
    desk.done("measure", "left", "hydrometer", "1.012", "--degassed", "--yes")
    assert "CO2 in it now 0.80 to 0.92 volumes" in flat(desk.type("batch", "package", "left", *GLASS).text)


def test_a_keg_of_wort_that_warms_ferments_on(desk: CommandLine) -> None:
    """Its pressure was said to climb to what its carbonation makes of itself: 2.6 bar."""
    keg = ("--package", "keg", "--volumes", "2.4", "--storage", "4C", "--volume", "18L")
    told = flat(desk.type("batch", "package", "left", *keg).text)
    assert "about 37 points ferment on in it, and its pressure climbs beyond what any keg holds: keep it cold" in told
    desk.clock.advance(14 * DAY)
    desk.done("measure", "left", "hydrometer", "1.011", "--degassed", "--yes")
    told = flat(desk.type("batch", "package", "left", *keg, "--limit-bar", "9").text)
    found = re.search(r"about (\d) points? ferment on in it, and its pressure climbs to ([0-9.]+) bar", told)
    assert found is not None
    assert float(found[2]) > 2.6 + 0.2 * float(found[1])


def test_in_its_first_hours_one_is_told_what_to_look_for_and_when(desk: CommandLine) -> None:
    """It said that nothing had been measured yet to judge by."""
    said = flat(desk.type("bottle", "left").text)
    assert "Not ready to bottle: it was only just pitched. Look for signs of life by 2 Mar " in said
    assert "(`fermwatch note left signs-of-life`); from 1 Mar " in said
    assert "on `fermwatch bottle left` says when to read the hydrometer." in said
    desk.clock.advance(4 * HOUR)
    assert "Next" in flat(desk.type("bottle", "left").text)
