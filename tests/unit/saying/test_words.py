"""Times, ages and rates as people say them."""

from dataclasses import fields
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.contracts.feed import Freshness
from fermwatch.drawing.glyphs import DRAWN, TYPED, Glyphs
from fermwatch.model.quantity import Quantity
from fermwatch.saying import words
from fermwatch.saying.voice import USUAL_UNITS, Gallon, Units, Voice, to_ascii, turns, zone_of
from tests.dashboard.snapshots import NOW, view

OSLO = Voice(zone=ZoneInfo("Europe/Oslo"))


@pytest.mark.parametrize(
    ("hours_ago", "said"),
    [
        (0, "today 21:14"),
        (21.2, "today 00:02"),
        (21.3, "yesterday 23:56"),
        (-3, "tomorrow 00:14"),
        (72, "Sat 21:14"),
        (-72, "on Fri 21:14"),
        (24 * 5, "Thu 21:14"),
        (24 * 6, "28 Oct 21:14"),
        (-24 * 6, "9 Nov 21:14"),
        (24 * 8, "26 Oct 21:14"),
        (24 * 400, "29 Sep 2025"),
    ],
)
def test_a_moment_is_told_by_the_sites_own_calendar(hours_ago: float, said: str) -> None:
    assert words.moment(NOW - timedelta(hours=hours_ago), NOW, OSLO) == said


@pytest.mark.parametrize(
    ("hours_ahead", "said"), [(1, "until 22:14"), (72, "until Fri 21:14"), (24 * 6, "until 9 Nov 21:14")]
)
def test_an_end_to_come(hours_ahead: float, said: str) -> None:
    assert words.until(NOW + timedelta(hours=hours_ahead), NOW, OSLO) == said


@pytest.mark.parametrize(
    ("hours_ago", "said"), [(2, "19:14"), (24 * 5, "Thu 21:14"), (24 * 6, "28 Oct"), (-72, "6 Nov")]
)
def test_a_brief_moment_names_only_a_near_day_that_has_been(hours_ago: float, said: str) -> None:
    assert words.brief_moment(NOW - timedelta(hours=hours_ago), NOW, OSLO) == said


def test_days_of_a_beer_are_nights_since_pitching_also_across_a_change_of_the_clock() -> None:
    pitched = datetime(2026, 10, 24, 21, 30, tzinfo=UTC)  # 23:30 in Oslo; the clock goes back that night
    assert words.beer_day(pitched, pitched, OSLO) == "pitched today"
    assert words.beer_day(pitched, datetime(2026, 10, 24, 22, 30, tzinfo=UTC), OSLO) == "day 1"
    assert words.beer_day(pitched, datetime(2026, 10, 25, 22, 59, tzinfo=UTC), OSLO) == "day 1"
    assert words.beer_day(pitched, datetime(2026, 10, 25, 23, 0, tzinfo=UTC), OSLO) == "day 2"


@pytest.mark.parametrize(
    ("seconds", "said"), [(0, "0 s"), (89, "89 s"), (90, "2 min"), (5399, "90 min"), (7200, "2 h"), (172800, "2 days")]
)
def test_ages(seconds: float, said: str) -> None:
    assert words.age(seconds) == said


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        (-5, "any time now"),
        (0.5, "within the hour"),
        (5, "in about 5 h"),
        (35, "in about 35 h"),
        (62, "in about 3 days"),
    ],
)
def test_what_lies_ahead(hours: float, said: str) -> None:
    assert words.ahead(NOW + timedelta(hours=hours), NOW) == said


def test_freshness_tells_live_stale_and_never_heard_apart() -> None:
    live, stale, never = (
        view("left", Quantity.GRAVITY, *value, age_s=age)
        for value, age in (((1.02,), 5), ((1.02,), 7200), ((None,), 0))
    )
    assert [words.freshness(one) for one in (live, stale, never)] == ["live", "stale 2 h", "never heard"]
    assert never.freshness is Freshness.NEVER


@given(st.builds(Units, st.booleans(), st.booleans(), st.sampled_from((None, *Gallon))))
def test_units_come_back_to_what_was_chosen_by_each_usual_set_once(chosen: Units) -> None:
    turned = turns(chosen)
    assert turned[-1] == chosen
    assert len(turned) == len(set(turned))
    assert set(turned) == {*USUAL_UNITS, chosen}


@given(st.text())
def test_ascii_is_ascii(text: str) -> None:
    assert to_ascii(text).isascii()


@given(st.text(max_size=500))
def test_a_voice_says_only_harmless_text(text: str) -> None:
    for voice in (Voice(), Voice(ascii=True)):
        said = voice.text(text)
        assert said.isprintable() or "\u00a0" in said or any(sign.isspace() for sign in said)
        assert "\x1b" not in said


def test_a_zone_that_is_not_known_is_utc() -> None:
    assert zone_of("Nowhere/Land") is UTC
    assert zone_of("../../etc/passwd") is UTC


def test_units_of_temperature_and_gravity() -> None:
    voice = Voice(Units(fahrenheit=True, plato=True))
    assert voice.temperature(20.0) == "68.0 °F"
    assert voice.gravity(1.048) == "11.9 °P"  # ASBC table: 1.04800 is 11.91 % by mass
    assert Voice(ascii=True).temperature_range(17, 21.5) == "17-21.5 C"


def test_a_spread_is_in_the_unit_of_its_gravity() -> None:
    assert Voice().gravity_spread(0.7) == "±0.7 points"
    assert Voice(Units(plato=True)).gravity_spread(0.7) == "±0.2 °P"
    assert Voice(Units(plato=True), ascii=True).gravity_spread(2.0) == "+/-0.5 P"


@pytest.mark.parametrize("gravity_sg", [0.970, 1.200])
def test_a_gravity_that_plato_is_not_defined_for_breaks_no_screen(gravity_sg: float) -> None:
    assert float(Voice(Units(plato=True)).bare_gravity(gravity_sg))


@pytest.mark.parametrize("glyphs", [DRAWN, TYPED])
def test_a_sign_of_an_instrument_has_one_meaning(glyphs: Glyphs) -> None:
    signs = [getattr(glyphs, field.name) for field in fields(glyphs) if field.name not in {"outside", "braille"}]
    assert len(set(signs)) == len(signs)
    assert not set(signs) & {"?", "!", "i", "z"}


def test_the_interval_of_an_end_that_has_passed_is_not_told() -> None:
    now = datetime(2026, 3, 9, 12, tzinfo=UTC)
    assert words.span_words(now - timedelta(hours=90), now - timedelta(hours=75), now) == ""
    assert words.span_words(now - timedelta(hours=90), now + timedelta(hours=5), now) == "0 to 5 h"
