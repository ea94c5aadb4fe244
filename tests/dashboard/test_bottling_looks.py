"""What the page of a beer that is to be bottled says, and what keys turn on it."""

from dataclasses import replace

import pytest

from fermwatch.contracts.feed import Lane
from fermwatch.dashboard.events import DialPicked, DialTurned, Wish
from fermwatch.dashboard.pages.bottling import Bottling
from fermwatch.drawing.lines import plain, width
from fermwatch.model.batch import PackageChoice
from fermwatch.saying.voice import US
from fermwatch.science.packages import PACKAGES
from fermwatch.science.pressure_risk import FermentableLeft
from tests.dashboard.bottlings import KEG, after, answered, ground, just_pitched, known_of, nearly, safe, text
from tests.dashboard.expected_text import Expected
from tests.dashboard.hostile import NAMES, hostile_lane
from tests.dashboard.snapshots import empty, healthy, hot, in_package, stalled

LEFT = Bottling("left")
SIZES = [(80, 24), (120, 40), (200, 60), (40, 12)]
FERMENTS_ON = FermentableLeft(12.0, 2.0)


@pytest.mark.parametrize(("columns", "rows"), SIZES)
def test_a_beer_that_is_nearly_ready_at_every_size(expected: Expected, columns: int, rows: int) -> None:
    known = answered(LEFT, known_of(), ground(nearly()))
    expected.check(f"bottling_{columns}x{rows}", text(LEFT, known, columns, rows))


def test_in_ascii_and_in_us_units(expected: Expected) -> None:
    known = answered(LEFT, known_of(typed=True, units=US), ground(nearly()))
    shown = text(LEFT, known, 80, 24)
    assert shown.isascii()
    assert " bar" not in shown
    expected.check("bottling_ascii_us", shown)


def test_why_shows_the_numbers_and_chances(expected: Expected) -> None:
    known = answered(LEFT, known_of(), ground(nearly()))
    shown = text(after(LEFT, known, Wish.WHY), known, 80, 24)
    assert "the chance of more is 2%" in shown
    assert "chance that a bottle exceeds its limit" in shown
    assert "chance" not in text(LEFT, known, 80, 24).partition("! The chance is")[0]
    expected.check("bottling_why", shown)


def test_beer_that_still_ferments_says_now_and_once_it_has_finished(expected: Expected) -> None:
    lane = healthy()
    known = answered(LEFT, known_of(lane), ground(lane, left=FERMENTS_ON))
    shown = text(LEFT, known, 80, 24)
    assert "let it finish" in shown
    assert "once done    about" in shown
    expected.check("bottling_fermenting", shown)


def test_how_to_fill_is_for_the_day_and_not_for_now_until_it_is_safe() -> None:
    wait = "Not yet, but on the day: Look at every bottle"
    assert wait in text(LEFT, answered(LEFT, known_of(nearly()), ground(nearly())), 80, 24)
    told = text(LEFT, answered(LEFT, known_of(safe()), ground(safe())), 80, 24)
    assert "> Look at every bottle" in told
    assert "Not yet" not in told


def test_a_keg_under_pressure_is_set_and_takes_no_sugar(expected: Expected) -> None:
    known = answered(LEFT, known_of(nearly(KEG)), ground(nearly(KEG)))
    shown = text(LEFT, known, 80, 24)
    assert "sugar        " not in shown
    assert "closed room" in shown
    expected.check("bottling_keg", shown)


def test_turning_keys_reckons_at_once_and_judges_for_the_package_that_is_shown() -> None:
    known = answered(LEFT, known_of(), ground(nearly()))
    before = text(LEFT, known, 80, 24)
    page = after(LEFT, known, DialPicked(1), DialTurned(1), DialTurned(1))
    shown = text(page, known, 80, 24)
    assert "2.6 volumes" in shown
    assert _row(shown, "sugar") != _row(before, "sugar")
    assert "Being judged for this package." in shown
    assert "Nearly ready" not in shown
    settled = answered(page, known, ground(nearly()))
    assert "Nearly ready" in text(page, settled, 80, 24)
    assert text(after(page, known, DialTurned(0)), known, 80, 24).splitlines()[2] == before.splitlines()[2]


def _row(shown: str, label: str) -> str:
    return next(line for line in shown.splitlines() if line.strip().startswith(label))


def test_every_package_can_be_turned_to_and_comes_round_again() -> None:
    known = answered(LEFT, known_of(), ground(nearly()))
    page, names = LEFT, []
    for _ in range(7):
        names.append(_row(text(page, known, 120, 40), "▌ into"))
        page = after(page, known, DialTurned(1))
    assert len(set(names)) == 7
    assert {kind.name for kind in PACKAGES.values() if not kind.refused} <= {
        name for kind in PACKAGES.values() for name in (kind.name,) if any(name in shown for shown in names)
    }
    assert _row(text(page, known, 120, 40), "▌ into") == names[0]


def test_what_is_turned_far_stays_within_what_is_sensible() -> None:
    known = answered(LEFT, known_of(), ground(nearly()))
    for dial in range(4):
        for by in (-1, 1):
            page = after(LEFT, known, *[DialPicked(1)] * dial, *[DialTurned(by)] * 80)
            shown = text(page, known, 80, 24)
            assert "limit" in shown, (dial, by)


def test_where_no_probe_told_how_warm_the_beer_was_keys_say_it(expected: Expected) -> None:
    unknown = replace(ground(nearly()), residual=None, origin="")
    known = answered(LEFT, known_of(), unknown)
    shown = text(LEFT, known, 80, 24)
    assert "How warm was the beer" in shown
    page = after(LEFT, known, DialPicked(-1), DialTurned(1))
    said = text(page, known, 80, 24)
    assert "20 °C at its warmest" in said
    assert _row(said, "sugar")
    expected.check("bottling_no_probe", shown)


def test_a_beer_in_its_first_hours_says_what_to_look_for() -> None:
    known = answered(LEFT, known_of(just_pitched()), ground(just_pitched()))
    assert "it was only just pitched. Look for signs of life" in " ".join(text(LEFT, known, 80, 24).split())


def test_until_it_is_reckoned_the_verdict_stands_alone() -> None:
    shown = text(LEFT, known_of(), 80, 24)
    assert "Nearly ready" in shown
    assert "Being reckoned." in shown


def test_what_cannot_be_reckoned_says_why() -> None:
    known = answered(LEFT, known_of(), None, "This batch is not in the store any more.")
    assert "not in the store any more" in text(LEFT, known, 80, 24)


def test_of_an_empty_fermenter_what_came_out_of_it_is_told_and_what_may_burst_first(expected: Expected) -> None:
    early = in_package("Wort", 3.0, declared_safe=False, left_points=36.0, chance_over_limit=0.99)
    known = known_of(replace(empty(), vessel=replace(empty().vessel, slug="middle", name="Middle")))
    assert known.snapshot is not None
    known = replace(known, snapshot=replace(known.snapshot, in_package=(in_package("Brew", 9.0), early)))
    shown = text(Bottling("middle"), known, 80, 24)
    assert shown.index("Wort") < shown.index("Brew")
    assert "goggles" in shown
    expected.check("bottling_packaged", shown)


@pytest.mark.parametrize("lane", [nearly(), safe(), nearly(None), just_pitched(), hot(), stalled(), empty()])
@pytest.mark.parametrize(("columns", "rows"), [*SIZES, (20, 5), (33, 9), (8, 3)])
def test_no_beer_and_no_size_breaks_it_and_nothing_is_said_twice_or_cut(lane: Lane, columns: int, rows: int) -> None:
    page, known = Bottling(lane.vessel.slug), known_of(lane)
    if lane.batch is not None:
        known = answered(page, known, ground(lane))
    for step in (DialTurned(1), DialPicked(1), DialTurned(-1), Wish.WHY):
        page = after(page, known, step)
        drawn = page.draw(known, columns, rows)
        assert max(width(line) for line in drawn.lines) <= columns
        shown = "\n".join(plain(line) for line in drawn.lines)
        if columns >= 40:
            assert "…" not in shown
        if columns >= 80:
            _assert_nothing_twice(shown)


def _assert_nothing_twice(shown: str) -> None:
    sentences = [one for one in " ".join(shown.split()).split(". ") if len(one) > 30]
    assert len(sentences) == len(set(sentences)), sentences


@pytest.mark.parametrize("number", range(200))
def test_two_hundred_hostile_texts_send_no_sequence(number: int) -> None:
    first, second = NAMES[number % len(NAMES)], NAMES[(number * 7 + number // len(NAMES)) % len(NAMES)]
    name = f"{first}{second}{number}"
    lane = hostile_lane(nearly(), number, name)
    assert lane.batch is not None
    batch = replace(lane.batch, package=PackageChoice(name, 2.4))
    lane = replace(lane, batch=batch)
    known = known_of(lane)
    page = Bottling(lane.vessel.slug)
    told = replace(ground(lane), batch=batch, origin=name)
    shown = text(page, answered(page, known, told, name), 80, 24)
    shown += text(after(page, known, Wish.WHY, DialTurned(1)), answered(page, known, None, name), 80, 24)
    assert all(sign == "\n" or sign.isprintable() for sign in shown)
    if "click" in first:
        assert "[@click=app.quit]" in shown
