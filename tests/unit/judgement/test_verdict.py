"""What `safe` takes, and what takes it away."""

from dataclasses import replace

import numpy as np
import pytest

from fermwatch.judgement.judge import Judge
from fermwatch.judgement.settings import JudgeSettings
from fermwatch.model.amounts import pace, plain
from fermwatch.model.batch import EventKind, GravityOrigin, Instrument, PackageChoice
from fermwatch.model.finding import Phase, VerdictKind
from fermwatch.model.judgement import Verdict
from fermwatch.model.yeast import Yeast
from tests.unit.judgement.beer import (
    ALE,
    LAGER,
    SAISON,
    a_batch,
    at,
    brewed,
    event,
    fermenting,
    first_safe_h,
    reading,
    said,
)

DAYS = 14
END_H = DAYS * 24.0 - 1.0
READINGS = (0.3, 168.0, 216.0, 264.0, 312.0)


def verdict_of(judge: Judge, hour: float) -> Verdict:
    verdict = said(judge, hour).verdict
    assert verdict is not None
    return verdict


def unmet(judge: Judge, hour: float) -> set[str]:
    return {evidence.name for evidence in verdict_of(judge, hour).evidence if not evidence.met}


def test_an_ordinary_ale_is_safe_after_its_readings_and_names_its_package() -> None:
    judge = brewed(fermenting(), DAYS, read_at=READINGS)
    verdict = verdict_of(judge, END_H)
    assert verdict.kind is VerdictKind.SAFE
    assert "returnable glass bottle, 2.4 volumes" in verdict.reasons[0]
    assert verdict.since < at(END_H)


def test_a_probe_alone_is_never_safe_whatever_is_set() -> None:
    lenient = JudgeSettings(
        drift_sd=0.0, still_risk=0.5, hold_h=0.0, fresh_reading_h=1e6, reading_apart=100.0, latch_days=1e6
    )
    for settings in (None, lenient):
        judge = brewed(fermenting(), DAYS, read_at=(0.3,), settings=settings)
        assert first_safe_h(judge, DAYS) is None
        assert verdict_of(judge, END_H).kind in {VerdictKind.CONFIRM, VerdictKind.NOT_YET}


def test_a_probe_alone_reaches_confirm_and_says_which_reading_settles_it() -> None:
    judge = brewed(fermenting(), DAYS, read_at=(0.3,), settings=JudgeSettings(drift_sd=0.02))
    verdict = verdict_of(judge, END_H)
    assert verdict.kind is VerdictKind.CONFIRM
    assert verdict.next_reading_at is not None
    assert "1.012" in plain(verdict.next_reading_why)


def test_without_a_package_it_is_at_most_confirm() -> None:
    judge = brewed(fermenting(), DAYS, batch=a_batch(package=None), read_at=READINGS)
    assert verdict_of(judge, END_H).kind is VerdictKind.CONFIRM
    assert unmet(judge, END_H) == {"package"}


@pytest.mark.parametrize(
    "package",
    [
        PackageChoice("growler", 2.4),
        PackageChoice("one-way-glass", 3.6, 30.0),
        PackageChoice("returnable-glass", 2.4, 25.0, limit_bar=1.5),
        PackageChoice("no such thing", 2.4),
    ],
)
def test_a_package_that_may_not_hold_it_is_not_safe(package: PackageChoice) -> None:
    judge = brewed(fermenting(), DAYS, batch=a_batch(package=package), read_at=READINGS)
    assert verdict_of(judge, END_H).kind is not VerdictKind.SAFE
    assert "package" in unmet(judge, END_H)


def test_a_probe_drifting_against_a_creep_does_not_fool_it() -> None:
    """Half a point a day of drift hides half a point a day of creep: the probe reads flat."""

    def creeping(hour: float) -> float:
        return fermenting(end=13.0)(hour) - 0.5 * max(hour - 90.0, 0.0) / 24.0

    judge = brewed(creeping, DAYS, drift=0.5, read_at=READINGS)
    assert first_safe_h(judge, DAYS) is None


def test_above_the_yeasts_range_it_stalls_and_a_forced_ferment_is_the_way_out() -> None:
    high = fermenting(end=15.5)
    judge = brewed(high, DAYS, read_at=READINGS)
    assert verdict_of(judge, END_H).kind is not VerdictKind.SAFE
    forced = [event(hour, EventKind.FORCED_FERMENT, gravity_sg=1.0155, temperature_c=25.0) for hour in (216.0, 240.0)]
    freed = brewed(high, DAYS, read_at=READINGS, events=forced)
    assert verdict_of(freed, END_H).kind is VerdictKind.SAFE


def test_a_forced_ferment_that_went_on_says_not_safe() -> None:
    forced = event(240.0, EventKind.FORCED_FERMENT, gravity_sg=1.006, temperature_c=25.0)
    judge = brewed(fermenting(end=17.0), DAYS, read_at=READINGS, events=[forced])
    assert first_safe_h(judge, DAYS) is None


def test_hops_void_a_forced_ferment_and_ask_for_five_days_a_reading_and_a_nose() -> None:
    forced = event(150.0, EventKind.FORCED_FERMENT, gravity_sg=1.012, temperature_c=25.0)
    hopped = event(170.0, EventKind.DRY_HOP, grams=60.0)
    judge = brewed(fermenting(), DAYS, read_at=READINGS, events=[forced, hopped])
    assert "after dry hops" in unmet(judge, END_H)
    smelled = event(300.0, EventKind.DIACETYL_TEST, passed=True)
    passed = brewed(fermenting(), DAYS, read_at=READINGS, events=[forced, hopped, smelled])
    assert "after dry hops" not in unmet(passed, END_H)


def test_safe_outlasts_a_cold_crash_and_ends_with_an_addition() -> None:
    judge = brewed(fermenting(), 29, read_at=READINGS, temperature_c=lambda hour: 20.0 if hour < 340.0 else 2.0)
    assert verdict_of(judge, 500.0).kind is VerdictKind.SAFE
    judge.add_event(event(510.0, EventKind.SUGAR, grams=100.0))
    assert verdict_of(judge, 507.0).kind is VerdictKind.SAFE
    assert verdict_of(judge, 519.0).kind is not VerdictKind.SAFE
    assert "changed or moved" in verdict_of(judge, 519.0).reasons[0]
    assert verdict_of(judge, 519.0).withdrawn == "", "nobody is told of what he did himself"


def test_a_crash_before_it_was_shown_to_be_still_is_not_safe() -> None:
    judge = brewed(fermenting(), DAYS, read_at=READINGS, temperature_c=lambda hour: 20.0 if hour < 90.0 else 2.0)
    assert first_safe_h(judge, DAYS) is None
    assert "warm" in unmet(judge, END_H)


def test_a_transfer_restarts_the_warm_clock() -> None:
    moved = event(300.0, EventKind.TRANSFER)
    judge = brewed(fermenting(), DAYS, read_at=READINGS, events=[moved])
    assert "warm" in unmet(judge, 318.0)


def test_safe_ends_without_a_fresh_reading() -> None:
    judge = brewed(fermenting(), 36, read_at=READINGS)
    assert verdict_of(judge, 700.0).kind is VerdictKind.SAFE
    assert verdict_of(judge, 700.0).withdrawn == ""
    assert verdict_of(judge, 36 * 24.0 - 1.0).kind is not VerdictKind.SAFE
    assert verdict_of(judge, 36 * 24.0 - 1.0).withdrawn == "no fresh reading for 21 days"


@pytest.mark.parametrize("daily", [2, 3])
def test_by_hand_a_few_flat_daily_readings_are_not_enough_so_early(daily: int) -> None:
    hours = [0.3, *(96.0 + 24.0 * day for day in range(daily))]
    judge = brewed(fermenting(), 12, probe=False, read_at=hours)
    assert verdict_of(judge, hours[-1] + 4.0).kind is not VerdictKind.SAFE


def test_by_hand_two_equal_readings_a_week_apart_say_enough() -> None:
    judge = brewed(fermenting(), 16, probe=False, read_at=(0.3, 168.0, 340.0))
    assert verdict_of(judge, 362.0).kind is VerdictKind.SAFE


def test_by_hand_two_readings_a_week_apart_that_differ_by_more_are_not_enough() -> None:
    judge = brewed(fermenting(), 16, probe=False, read_at=(0.3, 168.0))
    judge.add_measurement(reading(340.0, 10.8))
    assert verdict_of(judge, 362.0).kind is not VerdictKind.SAFE


def test_a_refractometer_shows_stillness_and_not_the_level() -> None:
    judge = brewed(fermenting(), 16, probe=False, read_at=(0.3,))
    for day in range(7, 16):
        judge.add_measurement(reading(day * 24.0, 19.0, Instrument.REFRACTOMETER))
    assert "hydrometer reading" in unmet(judge, 16 * 24.0 - 2.0)
    judge.add_measurement(reading(250.0, 12.0))
    assert "hydrometer reading" not in unmet(judge, 16 * 24.0 - 2.0)
    assert "still" not in unmet(judge, 16 * 24.0 - 2.0)


def test_a_mistyped_reading_is_taken_back_by_voiding_it() -> None:
    judge = brewed(fermenting(), DAYS, read_at=READINGS)
    clean = verdict_of(judge, END_H)
    judge.add_measurement(reading(330.0, 48.0))
    assert verdict_of(judge, END_H) != clean
    judge.void("m330")
    assert verdict_of(judge, END_H) == clean


def test_an_original_gravity_from_a_recipe_needs_a_forced_ferment() -> None:
    batch = a_batch(origin=GravityOrigin.RECIPE)
    judge = brewed(fermenting(), DAYS, batch=batch, read_at=READINGS)
    assert "original gravity" in unmet(judge, END_H)
    forced = event(240.0, EventKind.FORCED_FERMENT, gravity_sg=1.0118, temperature_c=25.0)
    assert "original gravity" not in unmet(
        brewed(fermenting(), DAYS, batch=batch, read_at=READINGS, events=[forced]), END_H
    )


def test_lactose_corrects_the_range() -> None:
    """50 g/L of lactose are 19 points that no yeast takes: ending at 1.020 is then no stall."""
    sweet = fermenting(end=25.0)
    assert verdict_of(brewed(sweet, DAYS, read_at=READINGS), END_H).kind is VerdictKind.HOLD
    batch = a_batch(adjuncts={"lactose": 45.0})
    assert verdict_of(brewed(sweet, DAYS, batch=batch, read_at=READINGS), END_H).kind is VerdictKind.SAFE


def test_a_declared_diastatic_yeast_waits_for_two_readings_a_fortnight_apart_and_heavy_bottles() -> None:
    dry = fermenting(end=6.0)
    heavy = PackageChoice("heavy-glass", 2.6, 25.0)
    long_read = (0.3, 168.0, 240.0, 312.0, 384.0, 456.0, 528.0)

    def judged(package: PackageChoice, read_at: tuple[float, ...]) -> Judge:
        return brewed(dry, 24, batch=a_batch(SAISON, package), read_at=read_at, temperature_c=lambda _h: 24.0)

    assert "slow sugars" in unmet(judged(heavy, long_read[:4]), 320.0)
    assert "slow sugars" not in unmet(judged(heavy, long_read), 536.0)
    assert "slow sugars" in unmet(judged(PackageChoice("returnable-glass", 2.6, 25.0), long_read), 536.0)


@pytest.mark.parametrize(
    "yeast",
    [replace(ALE, name="a wild mixture"), replace(ALE, kind="low-alcohol", maltose_negative=True)],
    ids=["wild", "maltose-negative"],
)
def test_wild_and_maltose_negative_yeasts_are_never_called_safe(yeast: Yeast) -> None:
    forced = event(240.0, EventKind.FORCED_FERMENT, gravity_sg=1.012, temperature_c=25.0)
    judge = brewed(fermenting(), DAYS, batch=a_batch(yeast), read_at=READINGS, events=[forced])
    assert first_safe_h(judge, DAYS) is None
    assert "yeast" in unmet(judge, END_H)
    assert verdict_of(judge, END_H).next_reading_at is None


def test_after_a_blend_only_a_forced_ferment_knows_the_level() -> None:
    blend = event(150.0, EventKind.BLEND)
    judge = brewed(fermenting(), DAYS, read_at=READINGS, events=[blend])
    assert {"attenuation", "original gravity"} <= unmet(judge, END_H)
    forced = event(250.0, EventKind.FORCED_FERMENT, gravity_sg=1.012, temperature_c=25.0)
    settled = brewed(fermenting(), DAYS, read_at=READINGS, events=[blend, forced])
    assert not {"attenuation", "original gravity"} & unmet(settled, END_H)


def test_sugar_added_moves_gravity_and_what_is_expected() -> None:
    """200 g in 20 L are 3.9 points, wholly fermentable."""
    sugar = event(100.0, EventKind.SUGAR, grams=200.0, name="sucrose")

    def sweetened(hour: float) -> float:
        return fermenting()(hour) + (0.0 if hour < 100.0 else 4.66 * np.exp(-(hour - 100.0) / 20.0) - 0.8)

    judge = brewed(sweetened, DAYS, read_at=READINGS, events=[sugar])
    trend = said(judge, 102.0).trend
    assert trend is not None
    assert trend.gravity_sg == pytest.approx(1.0160, abs=0.0025)
    assert verdict_of(judge, END_H).kind is VerdictKind.SAFE


def test_a_cold_lager_is_asked_for_a_rest_or_for_its_stillness() -> None:
    slow = fermenting(middle_h=120.0, width_h=20.0)
    judge = brewed(slow, DAYS, batch=a_batch(LAGER), read_at=(0.3, 312.0), temperature_c=lambda _h: 10.0)
    assert "warm rest" in unmet(judge, END_H)
    rested = brewed(
        slow, DAYS, batch=a_batch(LAGER), read_at=(0.3, 312.0), temperature_c=lambda h: 10.0 if h < 250.0 else 16.0
    )
    assert "warm rest" not in unmet(rested, END_H)


def test_nothing_is_judged_before_the_first_three_hours() -> None:
    judge = brewed(fermenting(), 1)
    assert said(judge, 2.0).verdict is None
    assert said(judge, -5.0).phase is None


def test_packaged_beer_is_in_its_phase() -> None:
    judge = brewed(fermenting(), DAYS, read_at=READINGS, events=[event(330.0, EventKind.PACKAGED)])
    phase = said(judge, END_H).phase
    assert phase is not None
    assert phase.phase is Phase.PACKAGED
    assert verdict_of(judge, END_H).next_reading_at is None


def test_every_gate_says_its_number_and_what_would_meet_it() -> None:
    judge = brewed(fermenting(), DAYS, read_at=READINGS[:1])
    for hour in np.arange(6.0, END_H, 48.0):
        for evidence in verdict_of(judge, float(hour)).evidence:
            assert evidence.statement
            assert evidence.met or evidence.remedy


def statement_of(judge: Judge, hour: float, name: str) -> str:
    return plain(next(evidence.statement for evidence in verdict_of(judge, hour).evidence if evidence.name == name))


def test_safe_that_outlasts_a_gate_says_so_first_and_until_when() -> None:
    judge = brewed(fermenting(), 29, read_at=READINGS, temperature_c=lambda hour: 20.0 if hour < 340.0 else 2.0)
    verdict = verdict_of(judge, 312.0 + 15.0 * 24.0)
    assert verdict.kind is VerdictKind.SAFE
    assert verdict.reasons[0].startswith("safe for ")
    assert "and not all is shown any more" in verdict.reasons[0]
    assert "21 days pass without a fresh reading (15 days so far)" in verdict.reasons[0]
    assert "(warm, hydrometer reading)" in verdict.reasons[0]


@pytest.mark.parametrize(
    ("package", "reason"),
    [
        (PackageChoice("growler", 2.4), "No conditioning beer goes into a growler. A growler is for serving"),
        (
            PackageChoice("one-way-glass", 3.6, 30.0),
            "this package would be overfilled: one-way glass bottle, 3.6 volumes",
        ),
    ],
)
@pytest.mark.parametrize("read_at", [READINGS, READINGS[:1]])
def test_no_reading_is_asked_for_to_fill_a_package_that_cannot_hold_it(
    package: PackageChoice, reason: str, read_at: tuple[float, ...]
) -> None:
    settings = JudgeSettings(drift_sd=0.02)
    judge = brewed(fermenting(), DAYS, batch=a_batch(package=package), read_at=read_at, settings=settings)
    verdict = verdict_of(judge, END_H)
    assert verdict.kind is VerdictKind.NOT_YET
    assert verdict.reasons[0].startswith(reason)
    assert ".." not in verdict.reasons[0]
    assert verdict.next_reading_at is None


def test_a_package_that_may_hold_it_is_reckoned_once_gravity_is_nearly_still() -> None:
    judge = brewed(fermenting(), DAYS, read_at=READINGS)
    assert statement_of(judge, 60.0, "package") == (
        "returnable glass bottle, 2.4 volumes: reckoned once gravity is nearly still"
    )


def test_an_old_reading_is_compared_with_the_trend_of_its_own_time() -> None:
    judge = brewed(fermenting(), DAYS, read_at=(0.3, 40.0))
    trend = said(judge, 72.0).trend
    assert trend is not None
    assert 1.0 + fermenting()(40.0) / 1000.0 - trend.gravity_sg > 0.010
    assert "points from the trend then" in statement_of(judge, 72.0, "hydrometer reading")
    assert "hydrometer reading" not in unmet(judge, 72.0)


def test_a_probe_that_fell_silent_is_named_in_place_of_the_hydrometer() -> None:
    verdict = verdict_of(brewed(fermenting(), 7, read_at=(0.3, 189.0)), 192.0)
    told = next(evidence for evidence in verdict.evidence if evidence.name == "hydrometer reading")
    assert not told.met
    assert "the probe is silent: heard in 0 of the last 24 h" in told.statement
    assert verdict.kind is not VerdictKind.SAFE


def test_one_beer_has_one_pace_by_hand_alone_where_hardly_anything_is_left() -> None:
    """Two readings tell little of a slope; what they leave to ferment tells how fast it can still fall."""
    judge = brewed(fermenting(), 12, read_at=(192.0, 234.0), probe=False)
    for hour in (235.5, 258.0, 300.0):
        judged = judge.judge_at_once(at(hour))
        assert judged.trend is not None
        assert judged.phase is not None
        assert judged.phase.phase in {Phase.TERMINAL, Phase.CONDITIONING}
        assert "not known" not in plain(pace(judged.trend.rate_points_per_day, judged.trend.rate_sd_points_per_day))
        assert not any("not known" in plain(one.statement) for one in judged.phase.evidence)
        assert judged.verdict is not None
        assert judged.verdict.kind is VerdictKind.SAFE


@pytest.mark.parametrize("read", [(12.0, 11.0), (11.0, 12.0), (12.5, 11.5)])
@pytest.mark.parametrize("days_apart", [2.0, 4.0])
def test_two_readings_within_a_point_beside_a_flat_probe_are_enough(
    read: tuple[float, float], days_apart: float
) -> None:
    judge = brewed(fermenting(end=11.6), 14)
    for hour, points in zip((192.0, 192.0 + 24.0 * days_apart), read, strict=True):
        judge.add_measurement(reading(hour, points))
    assert verdict_of(judge, 192.0 + 24.0 * days_apart + 3.0).kind is VerdictKind.SAFE
