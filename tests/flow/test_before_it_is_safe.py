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
TO_DO = ("Keep them cold", "covered", "with goggles", "stand ONE", "in a closed box", "PET bottle", "leave the room")


@pytest.mark.parametrize("words", [("bottle", "Fresh Wort"), ("batch", "show", "Fresh Wort"), ("status",)])
def test_what_was_bottled_before_it_was_safe_is_said_first_of_it(bottled: CommandLine, words: tuple[str, ...]) -> None:
    """It was told calmly: "Open the first on 15 Mar"."""
    with bottled.watched():
        told = flat(bottled.type(*words).text)
    for part in (BURSTS, AS_JUDGED, *TO_DO):
        assert part in told, part
    assert told.index(BURSTS) < told.index(AS_JUDGED) < told.index("No dates while they may burst")
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
        drawn = packages.draw(Picture(reader, desk.clock.now(), held=True).snapshot(), Sheet(80, 60))
        told += ["".join(span.text for span in line) for line in drawn.lines]
    return flat(" ".join(told)).replace("tells by squeezing", "")


def test_what_may_burst_has_no_dates_anywhere_and_is_not_to_be_warmed(bottled: CommandLine) -> None:
    """Beside the warning stood "Open the first tomorrow", "Still soft on day 7: warm them", "Ready since yesterday"."""
    for days in (0, 4, 7, 30):
        bottled.clock.advance(days * DAY)
        told = everywhere(bottled)
        for inviting in INVITING:
            assert inviting not in told, inviting
        assert "keep cold, drink soon" in told
    with bottled.watched():
        (known,) = json.loads(bottled.type("status", "--json").text)["conditioning"]
    assert (known["may_burst"], known["temperature_c"]) == (True, None)
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


def note(desk: CommandLine, *words: str) -> None:
    desk.done("note", "Fresh Wort", *words)


MAY_BURST = ("may burst", "Keep them cold, near 0 °C", "stand ONE", "No dates while they may burst")


def test_calm_bottles_that_were_kept_cold_prove_nothing(bottled: CommandLine) -> None:
    """After three of them it said "Ready since yesterday" beside "about 10 points might still ferment"."""
    for _ in range(4):
        note(bottled, "opened", "--calm")
        told = everywhere(bottled)
        for part in (*MAY_BURST, "One was opened cold today, and was calm.", "yeast sleeps there"):
            assert part in told, part
        for inviting in (*INVITING, "open another", "On day 3"):
            assert inviting not in told, inviting
        bottled.clock.advance(7 * DAY)


def test_a_calm_bottle_is_asked_where_it_stood(bottled: CommandLine) -> None:
    said = flat(bottled.type("note", "Fresh Wort", "opened", "--calm").text)
    assert "Of one that was kept cold this shows nothing" in said
    assert "say for how long: --after-warm 14d" in said


def test_one_that_stood_warm_and_was_calm_shows_that_they_hold_and_their_days_begin(bottled: CommandLine) -> None:
    bottled.clock.advance(13 * DAY)
    note(bottled, "opened", "--calm", "--after-warm", "14d")
    told = everywhere(bottled)
    assert "One that stood warm was opened calm today: so they should hold." in told
    assert "in a closed box" in told
    assert "Open the first on 31 Mar: 14 days." in told  # kept cold until now, they have not conditioned
    for gone in ("may burst", "Ready since", "might still ferment", "near 0 °C, and covered"):
        assert gone not in told, gone
    assert "one opened cold, calm, after 14 days warm" in flat(bottled.type("note", "list", "Fresh Wort").text)


def test_warm_for_too_short_shows_nothing(bottled: CommandLine) -> None:
    bottled.clock.advance(5 * DAY)
    note(bottled, "opened", "--calm", "--after-warm", "3d")
    told = everywhere(bottled)
    assert "It had stood warm for 3 of 14 days: too short to show anything." in told
    assert "No dates while they may burst" in told


def test_no_more_warm_days_count_than_there_were(bottled: CommandLine) -> None:
    said = bottled.type("note", "Fresh Wort", "opened", "--calm", "--after-warm", "20d", "--yes")
    assert (said.status, "leaves no day in the cold" in flat(said.text)) == (2, True)
    note(bottled, "opened", "--calm", "--after-warm", "20d", "--yes", "--even-so")
    assert "No dates while they may burst" in everywhere(bottled)


def test_calm_minutes_after_it_was_bottled_is_questioned(desk: CommandLine) -> None:
    """It was taken for "opened cold, and was calm" ten minutes after."""
    desk.done("batch", "package", "left", *GLASS, "--yes", "--although-not-safe")
    desk.clock.advance(600.0)
    said = desk.type("note", "Fresh Wort", "opened", "--calm", "--yes")
    assert said.status == 2
    assert "in its package for 10 min only, and one is opened cold after a day in the cold" in flat(said.text)


def test_the_advice_is_one_wherever_it_is_said(bottled: CommandLine) -> None:
    """What to do, the advice and `bottle` each said another thing of one beer at one moment."""
    for words in ((), ("opened", "--calm"), ("opened", "--gushed"), ("vented",)):
        if words:
            note(bottled, *words)
        with bottled.watched(), bottled.reader() as reader:
            said = {flat(one.remedy) for one in reader.alarms() if one.stands and one.remedy}
            status, sheet = (flat(bottled.type(*typed).text) for typed in (("status",), ("bottle", "Fresh Wort")))
        assert len(said) == 1, said
        (advice,) = said
        advice = re.sub(r"\W*(0|20)\W*°C\W*", "", advice)
        assert status.count("fermwatch note") == sheet.count("fermwatch note") - 1  # how to take it back
        first, last = flat(advice)[:18], flat(advice)[-30:]
        for told in (status, sheet):
            assert (told.count(first), told.count(last)) == (1, 1)


def test_what_gushed_is_vented_and_its_end_is_told_of_what_ended(bottled: CommandLine) -> None:
    """It ended with "none to be opened cold today"."""
    note(bottled, "opened", "--gushed")
    told = everywhere(bottled)
    assert "Fresh Wort gushed: the other bottles are as full" in told
    assert "vent every cap" in told
    bottled.clock.advance(DAY)
    note(bottled, "vented")
    told = everywhere(bottled)
    assert "not seen yet: Fresh Wort gushed, and was vented." in told
    assert "No dates while they may burst" in told
    assert "Vented today. What may still ferment makes more gas where it is warm." in told


def test_what_gushed_is_vented_before_a_calm_one_shows_anything(bottled: CommandLine) -> None:
    bottled.clock.advance(20 * DAY)
    note(bottled, "opened", "--gushed")
    bottled.clock.advance(20 * DAY)
    note(bottled, "opened", "--calm", "--after-warm", "15d")
    assert "gushed: the other bottles are as full" in everywhere(bottled)
    note(bottled, "vented")
    bottled.clock.advance(16 * DAY)
    note(bottled, "opened", "--calm", "--after-warm", "14d")
    assert "so they should hold" in everywhere(bottled)


def test_what_may_burst_is_said_to_stand_and_to_hold_nothing_that_was_only_meant(bottled: CommandLine) -> None:
    """Over "Keep them cold, near 0 °C" stood "at 20 °C, as told (returnable glass bottle, 2.2 volumes)"."""
    assert "as planned" not in everywhere(bottled)
    for words in (("status",), ("bottle", "Fresh Wort")):
        told = flat(bottled.type(*words).text)
        assert "to be kept near 0 °C" in told
        assert "may come to more than 6 volumes" in told
        assert "2.4 volumes" not in told


def test_a_few_points_left_are_told_by_their_middle(desk: CommandLine) -> None:
    """About 6 points left were "more than 6 volumes: beyond any package", and the label said "2.2 volumes"."""
    desk.clock.advance(9 * DAY)
    desk.done("measure", "left", "hydrometer", "1.016", "--degassed", "--yes", "--even-so")
    desk.clock.advance(DAY)
    told = flat(desk.type("batch", "package", "left", *GLASS, "--dose", "5").text)
    assert re.search(r"pressure [\d.]+ bar in the middle; the upper end may pass 6 volumes, beyond any package", told)
    assert re.search(r"Fresh Wort · may come to about [45]\.\d volumes · bottled .* MAY BURST", told)
    assert "more than 6 volumes" not in told


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


def test_what_is_left_is_one_number_on_that_day_and_later(desk: CommandLine) -> None:
    """The sheet said "about 11 points still", and status an hour later "about 10 points might still ferment"."""
    desk.done("batch", "open", "Stout", "--vessel", "right", "--og", "1.060", "--yeast", "clean-ale", "--yes")
    desk.clock.advance(9 * DAY)
    desk.done("measure", "right", "hydrometer", "1.024", "--degassed", "--yes", "--even-so")
    desk.clock.advance(DAY)
    dose = ("--volume", "18", "--bottles", "36", "--dose", "5", "--warmest", "20", "--package", "returnable-glass")
    day = flat(desk.type("batch", "package", "right", *dose, "--yes", "--although-not-safe").text)
    desk.attend()
    said = re.search(r"may ferment about (\d+) points", day)
    later = re.search(r"about (\d+) points might", flat(desk.type("bottle", "Stout").text))
    assert said is not None
    assert later is not None
    assert said[1] == later[1]


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
