"""Scales, bars and curves stand where their numbers say."""

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.contracts.store import Bucket
from fermwatch.drawing import chart, curve, progress, scale
from fermwatch.drawing.glyphs import DRAWN, TYPED
from fermwatch.drawing.lines import plain, width
from fermwatch.model.window import last_day
from fermwatch.saying.facts import LaneFacts, lane_facts
from fermwatch.saying.ink import Ink
from fermwatch.saying.measured import Shown
from fermwatch.saying.voice import Voice
from tests.dashboard.snapshots import NOW, healthy, hot

SIZE = 40


def facts(beer_c: float | None = 19.0, gravity_sg: float | None = 1.024) -> LaneFacts:
    return replace(lane_facts(healthy(), NOW, Voice()), beer=Shown(beer_c), gravity=Shown(gravity_sg), set_point_c=None)


def test_the_pen_stands_inside_the_band_exactly_while_the_beer_is_in_range() -> None:
    for tenth in range(120, 270):
        strip = plain(scale.strip(facts(beer_c=tenth / 10), SIZE, TYPED))
        low, high = strip.find("["), strip.find("]")
        pen = max(strip.find("#"), strip.find("<"), strip.find(">"))
        if 17.3 <= tenth / 10 <= 20.7:
            assert low < pen < high
        elif tenth / 10 < 16.7:
            assert pen < low
        elif tenth / 10 > 21.3:
            assert pen > high


@pytest.mark.parametrize(("beer_c", "sign"), [(2.0, "◂"), (35.0, "▸")])
def test_a_beer_beyond_the_scale_is_pinned_at_its_end(beer_c: float, sign: str) -> None:
    strip = plain(scale.strip(facts(beer_c=beer_c), SIZE, DRAWN))
    assert sign in strip
    assert DRAWN.pen not in strip


def test_the_scale_stands_still_while_the_beer_moves() -> None:
    strips = {plain(scale.strip(facts(beer_c=value), SIZE, TYPED)).replace("#", "=") for value in (18.0, 19.0, 20.0)}
    assert len(strips) == 1


def test_an_old_reading_is_drawn_and_said_as_old() -> None:
    old = replace(facts(), beer=Shown(19.0, "stale 2 h"))
    assert "▒" in plain(scale.strip(old, SIZE, DRAWN))
    assert plain(scale.above(old, SIZE, Voice())).strip() == "19.0 °C stale 2 h"
    assert scale.pen_ink(old) is Ink.FAINT


def test_nothing_heard_is_a_dash_with_its_reason() -> None:
    assert scale.reading(replace(facts(), beer=Shown(None, "never heard")), Voice()) == "- never heard"
    assert progress.reading(replace(facts(), gravity=Shown(None, "no gravity probe")), Voice()) == "- no gravity probe"


@given(st.floats(0.990, 1.060), st.integers(8, 80))
def test_the_bar_is_whole_at_every_gravity(gravity_sg: float, size: int) -> None:
    bar = progress.bar(facts(gravity_sg=gravity_sg), size, DRAWN)
    assert width(bar) == size
    assert plain(bar).count(DRAWN.pen) == 1


def test_gravity_moves_to_the_right_and_ends_in_the_uncertain_stretch() -> None:
    places = [plain(progress.bar(facts(gravity_sg=sg), SIZE, TYPED)).index("#") for sg in (1.052, 1.040, 1.024, 1.012)]
    assert places == sorted(places)
    assert places[0] == 0
    assert ":" in plain(progress.bar(facts(gravity_sg=1.012), SIZE, TYPED))[places[-1] - 3 :]


def _bucket(hours_ago: float, value: float) -> Bucket:
    return Bucket(NOW - timedelta(hours=hours_ago), 10, value, value, value)


def _rising() -> tuple[Bucket, ...]:
    return tuple(_bucket(24 - number / 4, 10 + number / 8) for number in range(96))


@pytest.mark.parametrize("draw", [curve.braille, curve.typed])
def test_a_rising_curve_rises_from_the_lower_left_to_the_upper_right(draw) -> None:  # type: ignore[no-untyped-def]  # noqa: ANN001
    rows = draw(_rising(), last_day(NOW), 24, 4, (10.0, 22.0))
    assert rows[-1].strip()
    assert rows[0].strip()
    assert len(rows[-1]) - len(rows[-1].lstrip()) < len(rows[0]) - len(rows[0].lstrip())
    assert all(len(row) == 24 for row in rows)


@pytest.mark.parametrize("draw", [curve.braille, curve.typed])
def test_silence_is_a_gap_and_not_a_line(draw) -> None:  # type: ignore[no-untyped-def]  # noqa: ANN001
    data = (
        *(_bucket(24 - number / 4, 10.0) for number in range(24)),
        *(_bucket(6 - number / 4, 10.0) for number in range(24)),
    )
    row = "".join(draw(data, last_day(NOW), 48, 1, (9.0, 11.0)))
    assert row[14:34].strip() == ""
    assert row[:10].strip()
    assert row[-10:].strip()


def test_one_spike_is_seen() -> None:
    flat = [replace(bucket, low=10.0, high=10.0, mean=10.0) for bucket in _rising()]
    flat[40] = replace(flat[40], high=20.0)
    rows = curve.braille(flat, last_day(NOW), 20, 3, (10.0, 20.0))
    assert len(rows[0].strip()) == 1


def test_a_steep_stretch_has_no_holes() -> None:
    steps = tuple(_bucket(24 - number / 4, 10.0 if number < 48 else 20.0) for number in range(96))
    rows = curve.braille(steps, last_day(NOW), 30, 4, (10.0, 20.0))
    assert all(row.strip() for row in rows)


def test_colour_comes_to_the_beer_only_while_it_is_out_of_range() -> None:
    assert scale.pen_ink(lane_facts(healthy(), NOW, Voice())) is Ink.STRONG
    assert scale.pen_ink(lane_facts(hot(), NOW, Voice())) is Ink.CRITICAL


VIENNA = Voice(zone=ZoneInfo("Europe/Vienna"))


@pytest.mark.parametrize(
    ("now", "hours_utc"),
    [
        # The clock went forward from 02:00 to 03:00: from 00:00 to 06:00 are five hours.
        (
            datetime(2026, 3, 29, 14, 30, tzinfo=UTC),
            {"18:00": (28, 17), "00:00": (28, 23), "06:00": (29, 4), "12:00": (29, 10)},
        ),
        # The clock went back from 03:00 to 02:00: from 00:00 to 06:00 are seven hours.
        (
            datetime(2026, 10, 25, 14, 30, tzinfo=UTC),
            {"18:00": (24, 16), "00:00": (24, 22), "06:00": (25, 5), "12:00": (25, 11)},
        ),
    ],
)
@pytest.mark.parametrize("size", [72, 96, 130])
def test_hours_stand_where_the_curve_is_also_on_the_nights_the_clock_is_changed(
    now: datetime, hours_utc: dict[str, tuple[int, int]], size: int
) -> None:
    for label, (day, hour) in hours_utc.items():
        at = now.replace(day=day, hour=hour, minute=0)
        spike = (Bucket(at, 1, 18.0, 22.0, 20.0),)
        lane = replace(healthy(), beer_curve=spike, gravity_curve=())
        *rows, axis = [plain(line) for line in chart.paper(lane.last_day(now), None, size + 8, 6, now, VIENNA, TYPED)]
        drawn = {row.index("|", 8) for row in rows if "|" in row}
        assert drawn == {axis.index(label)}, axis


@pytest.mark.parametrize("size", [20, 26, 40])
def test_hours_that_have_no_room_are_left_out_whole(size: int) -> None:
    axis = plain(chart.paper(healthy().last_day(NOW), None, size + 8, 6, NOW, VIENNA, TYPED)[-1])
    assert re.fullmatch(r"[.]*(\d\d:00[.]+)*now", axis.strip())
