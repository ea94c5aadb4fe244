"""When the next hydrometer reading would settle it: the fewest that do."""

from dataclasses import replace
from datetime import timedelta

import pytest

from fermwatch.judgement.gates import HOPS_DAYS, Gate
from fermwatch.judgement.settings import JudgeSettings
from fermwatch.model.amounts import plain
from fermwatch.model.batch import EventKind
from fermwatch.model.finding import VerdictKind
from tests.unit.judgement.beer import LAGER, SAISON, a_batch, at, brewed, event, fermenting, reading, said

DAYS = 16


def test_while_it_ferments_no_reading_is_asked_for_before_it_is_expected_to_be_done() -> None:
    judge = brewed(fermenting(), DAYS, read_at=(0.3,))
    verdict, forecast = said(judge, 50.0).verdict, said(judge, 50.0).forecast
    assert verdict is not None
    assert forecast is not None
    assert forecast.done_at is not None
    assert verdict.next_reading_at is None or verdict.next_reading_at >= forecast.done_at - timedelta(hours=3)


def test_taking_the_readings_that_are_asked_for_ends_in_safe_with_few() -> None:
    taken, judge = 0, brewed(fermenting(), DAYS, read_at=(0.3,))
    for hour in range(48, DAYS * 24, 12):
        verdict = said(judge, float(hour)).verdict
        assert verdict is not None
        if verdict.kind is VerdictKind.SAFE:
            break
        if verdict.next_reading_at is not None and verdict.next_reading_at <= at(hour):
            judge.add_measurement(reading(float(hour), fermenting()(hour)))
            taken += 1
    verdict = said(judge, DAYS * 24.0 - 1.0).verdict
    assert verdict is not None
    assert verdict.kind is VerdictKind.SAFE
    assert taken <= 4


def test_no_reading_is_asked_for_once_it_is_safe_or_packaged() -> None:
    read_at = (0.3, 168.0, 216.0, 264.0, 312.0)
    safe = said(brewed(fermenting(), DAYS, read_at=read_at), 330.0).verdict
    assert safe is not None
    assert safe.kind is VerdictKind.SAFE
    assert safe.next_reading_at is None
    packaged = said(brewed(fermenting(), DAYS, events=[event(300.0, EventKind.PACKAGED)]), 330.0).verdict
    assert packaged is not None
    assert packaged.next_reading_at is None


def test_a_stalled_beer_is_to_be_measured_now() -> None:
    verdict = said(brewed(lambda hour: max(fermenting()(hour), 27.0), 8), 150.0).verdict
    assert verdict is not None
    assert verdict.kind is VerdictKind.HOLD
    assert verdict.next_reading_at == verdict.since <= at(150.0)  # due since then, and not anew at every look


def test_without_a_package_the_reading_still_settles_the_beer() -> None:
    verdict = said(brewed(fermenting(), DAYS, batch=a_batch(package=None), read_at=(0.3, 168.0, 300.0)), 330.0).verdict
    assert verdict is not None
    assert "no package is chosen" in " ".join(verdict.reasons)


@pytest.mark.parametrize("hour", [12.0, 30.0, 45.0])
def test_nothing_is_asked_for_in_the_lag_nor_far_from_the_end(hour: float) -> None:
    verdict = said(brewed(fermenting(), 3, read_at=(0.3,)), hour).verdict
    assert verdict is not None
    assert verdict.next_reading_at is None
    assert not any("settle it" in reason for reason in verdict.reasons)


def test_without_a_probe_the_forecast_says_when_to_read() -> None:
    verdict = said(brewed(fermenting(), 4, probe=False, read_at=(0.3,)), 72.0).verdict
    assert verdict is not None
    assert verdict.next_reading_at is not None
    assert verdict.next_reading_at > at(72.0)


def test_everybody_is_asked_from_the_days_alone_with_what_the_answer_means() -> None:
    judge = brewed(fermenting(), 3, probe=False, read_at=(0.3,))
    early, later = (said(judge, hour).verdict for hour in (24.0, 60.0))
    assert early is not None
    assert later is not None
    assert early.next_reading_at == later.next_reading_at
    assert at(96.0) < (early.next_reading_at or at(0.0)) < at(192.0)
    assert plain(early.next_reading_why).startswith("If it reads 1.01")
    assert "that says the same may settle it" in early.next_reading_why
    assert early.next_reading_why in early.next_step


def test_a_reading_that_does_not_come_is_asked_for_again() -> None:
    judge = brewed(fermenting(), 3, probe=False, read_at=(0.3,))
    for day in (8, 9, 12):
        verdict = said(judge, day * 24.0 + 3.0).verdict
        assert verdict is not None
        assert verdict.next_reading_at is not None
        assert verdict.next_reading_at <= at(day * 24.0 + 3.0)


@pytest.mark.parametrize("gravity", [10.4, 12.0, 16.0])
def test_the_second_reading_does_not_move_away_while_one_waits_for_it(gravity: float) -> None:
    judge = brewed(fermenting(), 3, probe=False, read_at=(0.3,))
    judge.add_measurement(reading(150.0, gravity))
    for day in (7, 8, 9, 10, 11):
        verdict = said(judge, day * 24.0).verdict
        assert verdict is not None
        assert at(150.0 + 40.0) <= (verdict.next_reading_at or at(0.0)) <= at(150.0 + 5 * 24.0)


def test_a_creep_is_told_by_one_a_fortnight_after_the_first_that_said_the_same() -> None:
    judge = brewed(
        fermenting(end=6.0), 12, batch=a_batch(SAISON), read_at=(0.3, 200.0, 250.0), temperature_c=lambda _hour: 24.0
    )
    verdict = said(judge, 280.0).verdict
    assert verdict is not None
    assert verdict.next_reading_at == at(200.0 + 14 * 24.0)
    assert "whether it creeps" in verdict.next_reading_why


def test_where_it_still_fell_when_it_was_read_the_fortnight_begins_with_another() -> None:
    judge = brewed(
        fermenting(end=6.0), 12, batch=a_batch(SAISON), read_at=(0.3, 100.0), temperature_c=lambda _hour: 24.0
    )
    verdict = said(judge, 110.0).verdict
    assert verdict is not None
    assert verdict.next_reading_at == at(100.0 + 4 * 24.0)
    assert "From it on it must stand still for 14 days" in verdict.next_reading_why


def test_after_hops_were_read_only_the_warm_sample_is_asked_for() -> None:
    hopped = [event(150.0, EventKind.DRY_HOP)]
    judge = brewed(fermenting(), DAYS, events=hopped, read_at=(0.3, 100.0, 275.0, 320.0, 368.0))
    verdict = said(judge, 380.0).verdict
    assert verdict is not None
    assert verdict.next_reading_at is None, verdict.next_reading_why
    assert "Smell a warmed sample" in verdict.next_step
    assert "diacetyl-test --passed" in verdict.next_step


@pytest.mark.parametrize(("hopped_h", "read_at"), [(144.0, (144.0, 192.0)), (150.0, (144.0,)), (146.0, (144.0, 191.0))])
def test_after_dry_hops_a_reading_is_asked_for_from_when_it_counts(hopped_h: float, read_at: tuple[float, ...]) -> None:
    judge = brewed(fermenting(), 12, read_at=read_at, events=[event(hopped_h, EventKind.DRY_HOP)])
    asked = said(judge, hopped_h + 60.0).verdict
    assert asked is not None
    assert asked.next_reading_at == at(hopped_h + HOPS_DAYS * 24.0)
    judge.add_measurement(reading(hopped_h + HOPS_DAYS * 24.0, fermenting()(300.0)))
    after = said(judge, hopped_h + HOPS_DAYS * 24.0 + 6.0).verdict
    assert after is not None
    (gate,) = (one for one in after.evidence if one.name == Gate.HOPS)
    assert "on or after day 5: yes" in gate.statement


def test_a_reading_just_taken_counts_where_the_beer_went_too_far() -> None:
    """The hydrometer has said it too: another tells something only once a creep would show."""
    judge = brewed(fermenting(end=6.0), 12, read_at=(216.0,))
    verdict = said(judge, 222.0).verdict
    assert verdict is not None
    assert verdict.kind is VerdictKind.HOLD
    assert "the hydrometer says so too" in verdict.sentence
    assert "now" not in verdict.next_step
    assert verdict.next_at == verdict.next_reading_at == at(216.0 + 14 * 24.0)
    unread = said(brewed(fermenting(end=6.0), 12), 222.0).verdict
    assert unread is not None
    assert "Measure with the hydrometer now" in unread.next_step


def test_a_reading_that_contradicts_the_probe_says_why_and_when_another_is_needed() -> None:
    judge = brewed(fermenting(), 12, settings=JudgeSettings(drift_sd=0.02))
    judge.add_measurement(reading(216.0, 17.0))
    verdict = said(judge, 222.0).verdict
    assert verdict is not None
    assert verdict.kind is VerdictKind.HOLD
    assert "a second tells which is at fault" in verdict.next_step
    assert verdict.next_reading_at == at(240.0)


def test_a_reading_with_gas_in_it_that_left_the_start_open_is_repeated_once_the_lag_is_over() -> None:
    judge = brewed(fermenting(), 1, batch=a_batch(LAGER, original=1.048), probe=False)
    judge.add_measurement(replace(reading(24.0, 46.0), degassed=False))
    assert (early := said(judge, 30.0).verdict) is not None
    assert early.next_reading_at is None or early.next_reading_at > at(72.0)
    late = said(judge, 8 * 24.0).verdict
    assert late is not None
    assert late.next_reading_at == at(72.0)
    assert late.next_at is None, "it is due now"
    assert "whether it has started: the last had gas in it" in late.next_step
    judge.add_measurement(reading(8 * 24.0 + 1.0, 30.0))
    read = said(judge, 8 * 24.0 + 3.0).verdict
    assert read is not None
    assert read.next_reading_at is None or read.next_reading_at > at(8 * 24.0 + 24.0)


def test_a_stall_that_was_read_costs_no_second_reading_the_day_after() -> None:
    judge = brewed(lambda hour: max(fermenting()(hour), 27.0), 9, read_at=(130.0,))
    verdict = said(judge, 156.0).verdict
    assert verdict is not None
    assert verdict.kind is VerdictKind.HOLD
    assert verdict.next_reading_at == at(130.0 + 5 * 24.0)


def test_beer_that_went_too_far_and_stood_for_a_fortnight_asks_for_a_package_and_no_more_readings() -> None:
    judge = brewed(fermenting(end=6.0), 26, read_at=(216.0, 216.0 + 14 * 24.0))
    verdict = said(judge, 216.0 + 15 * 24.0).verdict
    assert verdict is not None
    assert verdict.kind is not VerdictKind.SAFE
    assert verdict.next_reading_at is None
    assert "heavy bottles only" in verdict.next_step
