"""What is said of a beer in its package: its day, where it stands, and the dates, as people say them."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from fermwatch.brewing.conditioning import conditioning_of
from fermwatch.contracts.feed import InPackage
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.conditioning import Stood
from fermwatch.model.packaging import packaging_of
from fermwatch.model.rule_settings import DEFAULTS
from fermwatch.model.yeast import Yeast
from fermwatch.saying import in_package
from fermwatch.saying.voice import Voice

Data = dict[str, float | str | bool]

DAY = timedelta(days=1)
PACKED = datetime(2026, 3, 2, 9, tzinfo=UTC)  # a Monday
ALE = Yeast("clean-ale", "clean ale", 17.0, 22.0, 0.73, 0.81)
LAGER = Yeast("lager", "lager", 8.0, 14.0, 0.70, 0.80, bottom_fermenting=True)
BEER = Batch("one", "Invented ale", "left", 1.050, PACKED - 14 * DAY, 19.0, ALE, packaged_at=PACKED)
GLASS: Data = {
    "package": "returnable-glass",
    "volumes": 2.4,
    "sugar_g_per_l": 6.0,
    "conditioning_c": 20.0,
    "storage_c": 20.0,
}
FORCED: Data = {"package": "keg", "way": "forced", "volumes": 2.4, "sugar_g_per_l": 0.0, "storage_c": 5.0}
HOPS = Event("hops", PACKED - 5 * DAY, EventKind.DRY_HOP, {"grams": 60.0})


def beer(
    days: float,
    data: Data,
    batch: Batch = BEER,
    more: tuple[Event, ...] = (),
    stood: tuple[Stood, ...] = (),
) -> tuple[InPackage, datetime]:
    events = (*more, Event("packed", PACKED, EventKind.PACKAGED, dict(data)))
    packaging, now = packaging_of(events), PACKED + days * DAY
    assert packaging is not None
    return InPackage(batch, packaging, conditioning_of(batch, packaging, events, now, DEFAULTS, stood), events), now


def told(days: float, data: Data, **more: object) -> str:
    one, now = beer(days, data, **more)  # type: ignore[arg-type]
    return " ".join(text for _, text in in_package.rows(one, now, Voice()))


@pytest.mark.parametrize(
    ("days", "coming"),
    [
        (0.1, "squeeze the PET bottle (day 3) on Thu 5 Mar"),
        (2.5, "squeeze the PET bottle (day 3) tomorrow"),
        (10, "squeeze the PET bottle (day 14) on Mon 16 Mar"),
        (18, "at its best from Mon 23 Mar"),
        (30, "past its best about 30 Jun"),
        (130, "past its best"),
    ],
)
def test_the_next_date_is_said_as_a_day(days: float, coming: str) -> None:
    one, now = beer(days, GLASS)
    assert in_package.next_words(one.conditioning, now, Voice()) == coming


def test_what_is_past_is_said_so() -> None:
    assert "Open the first on 16 Mar: 14 days." in told(1, GLASS)
    assert "Ready since yesterday, after 14 days." in told(15, GLASS)
    assert "Past its best since about 30 Jun." in told(125, GLASS)


def test_a_keg_has_words_of_its_own() -> None:
    under_pressure = told(3, FORCED)
    assert (
        "day 3 in the keg, under pressure, at 5 °C, as planned (keg with a relief valve, 2.4 volumes)" in under_pressure
    )
    assert "Draw the first glass on Mon 9 Mar: 7 days." in under_pressure
    primed = told(3, {**GLASS, "package": "keg", "way": "primed"})
    assert "day 3 in the keg, primed" in primed
    assert "Draw the first glass on 16 Mar: 14 days." in primed
    for words in (under_pressure, primed):
        assert "bottle" not in words
        assert "queeze" not in words


def test_bottles_without_sugar_are_ready_and_stay_flat() -> None:
    words = told(2, {**GLASS, "sugar_g_per_l": 0.0})
    assert "stay as flat as the beer was" in words
    assert "queeze" not in words
    assert "Open the first" not in words


@pytest.mark.parametrize(
    ("batch", "more", "first", "until"),
    [
        (BEER, (), "16 Mar", "30 Jun (ale"),
        (BEER, (HOPS,), "16 Mar", "27 Apr (dry-hopped ale"),
        (replace(BEER, yeast=LAGER), (), "16 Mar", "29 Aug (lager"),
        (replace(BEER, original_sg=1.095), (), "30 Mar", "24 Aug 2027 (strong beer"),
    ],
)
def test_the_kind_of_beer_says_how_long(batch: Batch, more: tuple[Event, ...], first: str, until: str) -> None:
    words = told(1, GLASS, batch=batch, more=more)
    assert f"Open the first on {first}" in words
    assert f"until about {until}, common practice)" in words


def test_where_it_was_measured_to_stand_goes_before_what_was_told() -> None:
    cold = (Stood(PACKED, PACKED + 4 * DAY, 15.0),)
    words = told(4, GLASS, stood=cold)
    assert "day 4 in the bottle, at 15.0 °C (" in words
    assert "At 15 °C it takes about 20 days instead of 14 at 20 °C." in words
    assert "last heard" in told(6, GLASS, stood=cold)


EARLY: Data = {**GLASS, "declared_safe": False, "left_points": 6.0, "chance_over_limit": 0.98}


def opened_calm(days: float, **more: float) -> Event:
    return Event(
        f"opened{days}", PACKED + days * DAY, EventKind.OBSERVATION, {"what": "opened", "gushed": False, **more}
    )


@pytest.mark.parametrize(
    ("at_c", "until_days", "holds"),
    [(20.0, 16.0, True), (20.0, 9.0, False), (1.0, 60.0, False), (10.0, 20.0, False), (25.0, 12.0, True)],
)
def test_what_was_measured_where_they_stand_shows_how_warm_the_one_stood(
    at_c: float, until_days: float, holds: bool
) -> None:
    """Nobody has to say it of bottles beside a thermometer; a calm one that stood cold shows nothing."""
    stood = tuple(Stood(PACKED + day * DAY, PACKED + (day + 1) * DAY, at_c) for day in range(int(until_days)))
    one, _ = beer(until_days, EARLY, more=(opened_calm(until_days),), stood=stood)
    assert (one.conditioning.peril is None) is holds
    assert (one.conditioning.open_at is not None) is holds


def test_a_calm_bottle_shows_as_long_as_its_kind_takes_to_condition() -> None:
    """A lager takes longer than an ale, and what a person set for the days of an ordinary beer is no proof."""
    lager = replace(BEER, yeast=LAGER)
    for batch, days, holds in ((BEER, 14.0, True), (lager, 14.0, False), (lager, 21.0, True)):
        one, _ = beer(30.0, EARLY, batch, more=(opened_calm(30.0, warm_days=days),))
        assert (one.conditioning.peril is None) is holds


@pytest.mark.parametrize("kind", ["keg", "soda-pet", "returnable-glass"])
def test_what_may_burst_is_to_be_kept_cold_whatever_it_is_in(kind: str) -> None:
    said = told(3.0, {**EARLY, "package": kind})
    assert "cold" in said
    assert "drink" in said
    assert "may come to about 5.6 volumes" in said
    assert "as told" not in said


def test_of_what_gushed_unawaited_no_volumes_are_said_and_the_advice_stands() -> None:
    """Who knows what else ferments in it: what was reckoned of a beer that was declared safe does not hold for it."""
    gushed = Event("gushed", PACKED + 20 * DAY, EventKind.OBSERVATION, {"what": "opened", "gushed": True})
    vented = Event("vented", PACKED + 21 * DAY, EventKind.OBSERVATION, {"what": "vented"})
    safe: Data = {**GLASS, "declared_safe": True, "left_points": 0.4, "chance_over_limit": 0.001}
    for said in (told(20.5, safe, more=(gushed,)), told(22.0, safe, more=(gushed, vented))):
        assert "volumes" not in said
        assert "Keep them cold, near" in said
        assert "No dates while they may burst." in said
