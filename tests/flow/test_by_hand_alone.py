"""A brewer with a hydrometer and nothing else: what is asked of him can be answered, and settles it."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.report.status import status_text
from tests.support.command_line import CommandLine, command_line
from tests.support.running import Site, vessel
from tests.support.stores import open_feed

PITCHED = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
HOUR = 3600.0
DAY = 24 * HOUR


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setenv("COLUMNS", "200")
    return command_line(tmp_path / "store", PITCHED, capsys)


def pitch(desk: CommandLine, yeast: str = "clean-ale") -> None:
    desk.done(
        *("batch", "open", "Hands", "--vessel", "left", "--og", "1.050", "--yeast", yeast, "--yes"),
        *("--volume", "20L", "--package", "returnable-glass", "--volumes", "2.3", "--storage", "25C"),
    )


def measure(desk: CommandLine, gravity: str) -> None:
    desk.done("measure", "left", "hydrometer", gravity, "--sample", "20C", "--degassed", "--even-so", "--yes")


def next_step(desk: CommandLine) -> str:
    text = flat(desk.type("bottle", "left").text)
    return text[text.index("Next") : text.index(" met ")]


def test_two_equal_readings_a_week_apart_are_enough_though_nothing_tells_how_warm_it_stands(desk: CommandLine) -> None:
    pitch(desk)
    desk.clock.advance(7 * DAY)
    measure(desk, "1.012")
    desk.clock.advance(HOUR)
    assert "still open besides: how warm it stands" in next_step(desk)
    desk.clock.advance(7 * DAY)
    measure(desk, "1.012")
    desk.clock.advance(3 * HOUR)
    bottle = desk.type("bottle", "left")
    assert bottle.status == 0
    assert "the chance that more than 1 point is left to ferment" in flat(bottle.text)


def test_two_equal_readings_far_above_its_range_are_a_stall_at_once_and_nothing_safe_to_bottle(
    desk: CommandLine,
) -> None:
    """It was said to slow down toward its end, and to stay below the bottle's limit, six points above its range."""
    pitch(desk)
    desk.clock.advance(8 * DAY)
    measure(desk, "1.020")
    assert "has stopped" not in flat(desk.type("bottle", "left").text), "one reading shows no stall"
    desk.clock.advance(3 * DAY)
    measure(desk, "1.020")
    desk.clock.advance(2 * HOUR)
    with desk.watched():
        bottle, alarms = flat(desk.type("bottle", "left").text), flat(desk.type("alarms").text)
    assert "Do not bottle: it has stopped at 1.020, 7 points above where its yeast should bring it." in bottle
    assert "How warm does it stand? Rouse it gently" in bottle
    assert "A forced ferment test tells whether its wort has more to give" in bottle
    assert "stalled left" in alarms
    desk.clock.advance(3 * DAY - 2 * HOUR)
    measure(desk, "1.020")
    desk.clock.advance(HOUR)
    assert "about 40 of 40 bottles" in flat(desk.type("bottle", "left").text), "what it would ferment if it woke again"


def test_a_reading_that_shows_no_fall_ends_no_slow_start(desk: CommandLine) -> None:
    """One with gas in it, half a point below the original gravity, silenced the alarm: it was within its lag, and done
    in 0 to 14 days."""
    pitch(desk)
    desk.clock.advance(38.5 * HOUR)
    with desk.watched():
        assert "slow-start left (advice" in flat(desk.type("alarms").text)
    desk.clock.advance(HOUR)
    desk.done("measure", "left", "hydrometer", "1.0495", "--sample", "20C", "--yes")
    desk.clock.advance(3 * HOUR)
    with desk.watched():
        alarms = flat(desk.type("alarms").text)
    assert "slow-start left (warning" in alarms
    assert "was measured last, which does not show it" in alarms
    assert "nothing shows that it has begun" in flat(desk.type("bottle", "left").text)
    assert "done in" not in status(desk)


def test_two_readings_that_still_fall_are_no_stall(desk: CommandLine) -> None:
    pitch(desk)
    desk.clock.advance(8 * DAY)
    measure(desk, "1.020")
    desk.clock.advance(3 * DAY)
    measure(desk, "1.016")
    desk.clock.advance(2 * HOUR)
    assert "has stopped" not in flat(desk.type("bottle", "left").text)


def test_before_a_second_reading_a_word_on_how_warm_it_stands_is_asked_for_and_taken(desk: CommandLine) -> None:
    pitch(desk)
    desk.clock.advance(14 * DAY)
    measure(desk, "1.012")
    desk.clock.advance(3 * HOUR)
    assert "no beer temperature is known" in flat(desk.type("bottle", "left").text)
    assert desk.type("note", "left", "stands-at", "--temperature", "19C").status != 0
    desk.done("note", "left", "stands-at", "--temperature", "19C", "--since", "2026-03-01 20:00")
    desk.clock.advance(3 * HOUR)
    bottle = desk.type("bottle", "left")
    assert bottle.status == 1
    assert "100% of the last 72 h" in flat(bottle.text)


def test_where_nobody_says_how_warm_it_stands_a_reading_is_offered_instead_and_nothing_else_is_claimed(
    desk: CommandLine,
) -> None:
    """Only a temperature was asked for; a reading that nobody asked for then counted a warmth that nobody had told."""
    pitch(desk)
    desk.clock.advance(8 * DAY)
    measure(desk, "1.0118")
    desk.clock.advance(40 * HOUR)
    measure(desk, "1.0113")
    desk.clock.advance(2 * HOUR)
    step = next_step(desk)
    assert "Say how warm it stands" in step
    assert "Or one more degassed reading on 13 Mar 09:00 that says the same may settle it without." in step
    desk.clock.advance(56 * HOUR)
    measure(desk, "1.0113")
    desk.clock.advance(2 * HOUR)
    bottle = desk.type("bottle", "left")
    assert bottle.status == 0
    assert "how warm it stood is not known; two readings days apart that agree settle it without" in flat(bottle.text)


def test_a_cold_room_is_not_warm_by_being_said(desk: CommandLine) -> None:
    pitch(desk)
    for _ in range(2):
        desk.clock.advance(7 * DAY)
        measure(desk, "1.012")
    desk.done("note", "left", "stands-at", "--temperature", "8C", "--since", "2026-03-01 20:00")
    desk.clock.advance(16 * HOUR)
    assert desk.type("bottle", "left").status == 1
    assert "Warm it to its yeast's range" in next_step(desk)


def test_how_warm_it_was_said_to_stand_is_shown_as_that_and_dated_as_people_do(desk: CommandLine) -> None:
    """Status said "Beer unknown", the history 2026-03-01T19:00:00+00:00."""
    pitch(desk)
    desk.clock.advance(2 * DAY)
    desk.done("note", "left", "stands-at", "--temperature", "66F", "--since", "2026-03-01 20:00")
    assert "Beer 18.9 °C, as said today 19:00; within the yeast's range 17–22 °C" in status(desk)
    history = flat(desk.type("batch", "show", "left").text)
    assert "observation stands-at, temperature 18.9 °C, since 1 Mar 20:00" in history
    assert "+00:00" not in history
    desk.clock.advance(8 * DAY)
    assert "Beer unknown, never heard" in status(desk), "after a week it is asked anew"


def status(desk: CommandLine) -> str:
    feed = open_feed(desk.directory, "home")
    try:
        return flat(status_text(feed.snapshot(desk.clock.now()), 100))
    finally:
        feed.close()


def test_how_warm_it_stands_is_no_sign_of_life(desk: CommandLine) -> None:
    pitch(desk)
    desk.clock.advance(2 * DAY)
    desk.done("note", "left", "stands-at", "--temperature", "19C", "--since", "2026-03-01 20:00")
    assert "something was noted" not in flat(desk.type("bottle", "left").text)


def test_a_degassed_reading_before_the_hops_is_called_that(desk: CommandLine) -> None:
    """It was told as one of beer that was not degassed."""
    pitch(desk)
    desk.clock.advance(9 * DAY)
    measure(desk, "1.020")
    desk.clock.advance(2 * DAY)
    desk.done("add", "left", "dry-hop", "--grams", "60", "--yes")
    desk.clock.advance(3 * HOUR)
    bottle = flat(desk.type("bottle", "left").text)
    assert "at 1.020 by hydrometer on" in bottle
    assert "before what was added or moved since" in bottle
    assert "not degassed" not in bottle


def hear(desk: CommandLine, hours: int, celsius: float) -> None:
    now = desk.clock.now()
    desk.hear("left-beer", {now - timedelta(hours=step / 2.0): celsius - 0.5 for step in range(2 * hours)})


def test_a_lager_steady_in_its_range_is_told_of_two_warm_days(desk: CommandLine) -> None:
    pitch(desk, "lager")
    desk.clock.advance(9 * DAY)
    measure(desk, "1.012")
    desk.clock.advance(2 * DAY)
    measure(desk, "1.012")
    hear(desk, 11 * 24, 14.0)
    desk.clock.advance(HOUR)
    assert "A rest of two days at 15 °C or warmer, or a forced ferment test" in next_step(desk)


def test_after_a_crash_it_is_warmed_to_the_yeasts_range(desk: CommandLine) -> None:
    pitch(desk)
    desk.clock.advance(9 * DAY)
    measure(desk, "1.012")
    desk.clock.advance(2 * DAY)
    measure(desk, "1.012")
    hear(desk, 11 * 24, 3.0)
    desk.clock.advance(HOUR)
    assert "Warm it to its yeast's range" in next_step(desk)
    assert "Let it stand" not in flat(desk.type("bottle", "left").text)


def test_beer_that_has_only_begun_is_not_roused(desk: CommandLine) -> None:
    pitch(desk)
    desk.clock.advance(6 * HOUR)
    measure(desk, "1.0495")
    for hours in (4, 20):
        desk.clock.advance(hours * HOUR)
        with desk.watched():
            assert "rouse" not in desk.type("bottle", "left", "--json").text


def test_a_site_without_a_probe_is_watched_by_hand_and_waits_for_nothing(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    site.configure(vessel())
    with site.watched():
        site.open_batch("left")
        told = site.run("status").stdout
    assert "by hand: no probe is set up" in told
    assert "othing stored" not in told


def test_a_reading_of_before_the_hops_is_named_with_why_it_does_not_count(desk: CommandLine) -> None:
    """It said "no hydrometer reading in the last 30 h" to whoever had read 26 h before."""
    pitch(desk)
    desk.clock.advance(9 * DAY)
    measure(desk, "1.012")
    desk.clock.advance(24 * HOUR)
    desk.done("add", "left", "dry-hop", "--grams", "60", "--yes")
    desk.clock.advance(2 * HOUR)
    bottle = flat(desk.type("bottle", "left").text)
    assert "no hydrometer reading in the last" not in bottle
    assert "hydrometer 1.0120 on 10 Mar 19:00 was before what was added or moved since, and does not count" in bottle
    assert "the last dry hops went in on 11 Mar 19:00; hydrometer" in bottle
    desk.clock.advance(3 * DAY)
    bottle = flat(desk.type("bottle", "left").text)
    assert "the last dry hops went in on 11 Mar 19:00, 3 days ago" in bottle
    assert "no hydrometer reading in the last 30 h" in bottle


def test_a_reading_of_the_first_day_is_named_too(desk: CommandLine) -> None:
    pitch(desk)
    desk.clock.advance(HOUR)
    measure(desk, "1.050")
    desk.clock.advance(2 * HOUR)
    assert "was in the first day, and shows nothing of how it ends" in flat(desk.type("bottle", "left").text)


def test_no_temperature_is_said_of_beer_that_nobody_knows_the_warmth_of(desk: CommandLine) -> None:
    """Beside "no beer temperature is known" stood "steady at 11 °C", which was the middle of its yeast's range."""
    pitch(desk, "lager")
    for day in (14, 17, 20):
        desk.clock.advance(day * DAY - (desk.clock.now() - PITCHED).total_seconds())
        measure(desk, "1.013")
    bottle = flat(desk.type("bottle", "left", "--package", "returnable-glass", "--volumes", "2.3").text)
    assert "how warm it stood is not known" in bottle
    assert "steady at" not in bottle
    assert "shows little about" not in bottle


def test_what_one_person_said_once_is_no_spread_that_was_measured(desk: CommandLine) -> None:
    """It was "within 0.0 °C", by one word on how warm it stands."""
    pitch(desk)
    desk.clock.advance(13 * DAY)
    desk.done("note", "left", "stands-at", "--temperature", "19C", "--since", "2026-03-10 18:00")
    desk.clock.advance(DAY)
    measure(desk, "1.012")
    desk.clock.advance(3 * HOUR)
    bottle = flat(desk.type("bottle", "left").text)
    assert "100% of the last 72 h at 15 °C or warmer, as somebody said (90% asked for)" in bottle
    assert "within 0.0" not in bottle


def test_the_air_drawn_in_is_reckoned_from_where_it_was_said_to_stand(desk: CommandLine) -> None:
    """It was reckoned "from 57 °F", which was the top of the yeast's range."""
    pitch(desk)
    desk.clock.advance(13 * DAY)
    crash = ("note", "left", "crash", "--yes")
    assert "from the top of its yeast's range, 22 °C, to 2 °C" in flat(desk.type(*crash).text)
    desk.done("note", "left", "stands-at", "--temperature", "18C", "--since", "2026-03-10 18:00")
    assert "from 18 °C to 2 °C" in flat(desk.type(*crash).text)
