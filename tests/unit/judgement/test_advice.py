"""One sentence and one next step: never against the evidence below them, never what cannot help."""

import numpy as np
import pytest

from fermwatch.judgement.judge import Judge
from fermwatch.model.amounts import plain
from fermwatch.model.batch import EventKind, GravityOrigin
from fermwatch.model.finding import Phase, VerdictKind
from fermwatch.model.judgement import Judgement, Verdict
from tests.unit.judgement.beer import SAISON, a_batch, at, brewed, event, fermenting, reading, said

DAYS = 14
END_H = DAYS * 24.0 - 1.0
READINGS = (0.3, 168.0, 216.0, 264.0, 312.0)


def verdict_of(judged: Judgement) -> Verdict:
    assert judged.verdict is not None
    return judged.verdict


def told(judge: Judge, hour: float) -> tuple[str, str]:
    verdict = verdict_of(said(judge, hour))
    return plain(verdict.sentence), plain(verdict.next_step)


def test_every_verdict_has_its_sentence_and_while_it_is_not_safe_a_step() -> None:
    judge = brewed(fermenting(), DAYS, read_at=READINGS)
    for hour in np.arange(3.0, END_H, 9.0):
        sentence, step = told(judge, float(hour))
        assert sentence.endswith(".")
        assert step.endswith((".", "signs-of-life`); a hydrometer reading says more."))


def test_a_fermenting_beer_is_left_alone_until_it_should_be_done() -> None:
    verdict = verdict_of(said(brewed(fermenting(), DAYS, read_at=(0.3,)), 48.0))
    assert plain(verdict.sentence).startswith("Not ready to bottle: it is still fermenting.")
    assert verdict.next_at is not None
    assert verdict.next_at > at(48.0)


def test_a_stall_says_how_far_above_and_to_measure_first() -> None:
    sentence, step = told(brewed(lambda hour: max(fermenting()(hour), 27.0), 8), 150.0)
    assert "it has stopped, 13 points above" in sentence, "its gravity stands beside, as the probe says it"
    assert step.startswith("Measure by hand first. Rouse it gently")


def test_without_a_package_there_is_none_that_is_too_small() -> None:
    judge = brewed(fermenting(), DAYS, batch=a_batch(package=None), probe=False, read_at=READINGS)
    sentences = {told(judge, float(hour))[0] for hour in np.arange(100.0, END_H, 3.0)}
    assert "Not ready to bottle: finished. What it goes into is not chosen yet." in sentences
    assert not [sentence for sentence in sentences if "Too much" in sentence]


def test_who_has_just_measured_a_stall_is_not_told_to_measure() -> None:
    """It said "Measure by hand first" 14 seconds after that."""
    judge = brewed(lambda hour: max(fermenting()(hour), 27.0), 8, read_at=(149.0,))
    sentence, step = told(judge, 150.0)
    assert "it has stopped, 13 points above" in sentence
    assert step.startswith("Rouse it gently")


def test_no_reading_is_asked_for_while_hops_still_free_sugar() -> None:
    """Nine hours after them one was, and another the day after: none before day 5 counts."""
    hops = event(192.0, EventKind.DRY_HOP, grams=60.0)
    judge = brewed(fermenting(), DAYS, read_at=(0.3,), events=[hops])
    for hour in np.arange(195.0, END_H, 9.0):
        verdict = verdict_of(said(judge, float(hour)))
        due = verdict.next_reading_at
        assert due is None or due >= at(192.0 + 5 * 24.0 - 2.0), hour
        assert "Wait 5 warm days" not in verdict.next_step


def test_what_only_a_forced_ferment_tells_is_not_asked_of_a_reading() -> None:
    batch = a_batch(origin=GravityOrigin.RECIPE)
    judge = brewed(fermenting(), DAYS, batch=batch, read_at=READINGS)
    verdict = verdict_of(said(judge, END_H))
    assert "forced ferment test" in verdict.next_step
    assert "settle it." not in f"{verdict.next_step} {verdict.next_reading_why}"


def test_one_reading_is_said_to_settle_no_more_than_it_can() -> None:
    """A declared diastatic yeast needs two readings a fortnight apart besides."""
    judge = brewed(fermenting(end=6.0), DAYS, batch=a_batch(SAISON), read_at=(0.3,), temperature_c=lambda _hour: 24.0)
    whys = {verdict_of(said(judge, float(hour))).next_reading_why for hour in np.arange(60.0, END_H, 12.0)}
    assert all("whether it creeps" in why for why in whys if "settle it" in why)


def test_nothing_heard_asks_for_signs_of_life_by_the_end_of_the_lag() -> None:
    judge = Judge(a_batch())
    early, late = verdict_of(judge.judge(at(12.0))), verdict_of(judge.judge(at(80.0)))
    assert early.sentence == late.sentence == "Not ready to bottle: nothing was heard since the pitch."
    assert (early.next_at, late.next_at) == (at(36.0), None)
    assert late.next_step.startswith("Has it started?")
    assert late.kind is VerdictKind.NOT_YET


def test_of_a_batch_of_which_nothing_was_heard_there_is_no_trend_phase_or_forecast() -> None:
    judged = Judge(a_batch()).judge(at(100.0))
    assert (judged.trend, judged.phase, judged.forecast) == (None, None, None)


def test_what_was_last_measured_is_kept_with_its_time_and_the_estimate_within_bounds() -> None:
    judge = Judge(a_batch())
    judge.add_measurement(reading(48.0, 30.0))
    for hour, estimated in ((54.0, False), (96.0, True), (300.0, True)):
        trend = judge.judge(at(hour)).trend
        assert trend is not None
        assert (trend.measured_sg, trend.measured_at, trend.measured_by) == (1.030, at(48.0), "hydrometer")
        assert 1.0 + 50.0 * (1.0 - 0.80) / 1000.0 <= trend.gravity_sg <= 1.031
        assert trend.apparent_attenuation == pytest.approx(0.40, abs=0.02)
        assert trend.estimated is estimated
    assert judge.judge(at(300.0)).phase is None


def test_a_gassy_reading_is_worth_little_and_still_says_where_the_beer_is() -> None:
    judge = Judge(a_batch())
    measured = reading(48.0, 30.0)
    judge.add_measurement(type(measured)(measured.id, measured.at, measured.gravity_sg, degassed=False))
    trend = judge.judge(at(72.0)).trend
    assert trend is not None
    assert trend.apparent_attenuation == pytest.approx(0.40, abs=0.06)


def test_a_failed_warm_sample_is_to_be_tested_again_in_two_days() -> None:
    failed = event(330.0, EventKind.DIACETYL_TEST, passed=False)
    verdict = verdict_of(said(brewed(fermenting(), DAYS, read_at=READINGS, events=[failed]), END_H))
    assert verdict.kind is VerdictKind.SAFE
    assert "two more warm days" in verdict.next_step
    assert verdict.next_at == at(378.0)


def test_a_stalled_beers_forecast_is_what_its_yeast_should_still_do() -> None:
    judged = said(brewed(lambda hour: max(fermenting()(hour), 27.0), 8), 150.0)
    assert judged.phase is not None
    assert judged.phase.phase is Phase.STALLED
    assert judged.forecast is not None
    forecast = judged.forecast
    assert (forecast.basis, forecast.done_at) == ("yeast", None)
    assert (round(forecast.low_sg, 3), round(forecast.high_sg, 3)) == (1.010, 1.014)


@pytest.mark.parametrize("points", [4.0, 8.0, 12.0])
def test_no_forecast_ends_above_a_beer_that_was_just_measured(points: float) -> None:
    judge = brewed(fermenting(end=12.0), 9, probe=False, read_at=(0.3, 96.0))
    judge.add_measurement(reading(200.0, points))
    judged = judge.judge_at_once(at(200.1))
    assert judged.forecast is not None
    assert judged.trend is not None
    assert judged.forecast.low_sg <= judged.forecast.terminal_sg <= judged.trend.gravity_sg
    assert judged.forecast.terminal_sg <= judged.forecast.high_sg <= 1.0 + points / 1000.0


@pytest.mark.parametrize("hour", [60.0, 120.0, 200.0, 300.0])
def test_no_forecast_ends_above_what_a_probe_alone_tells(hour: float) -> None:
    """One at 1.004 was to end at 0.998 to 1.008."""
    judged = said(brewed(fermenting(end=4.0), DAYS), hour)
    assert judged.forecast is not None
    assert judged.trend is not None
    assert judged.forecast.low_sg <= judged.forecast.terminal_sg <= judged.forecast.high_sg <= judged.trend.gravity_sg


def test_a_time_that_is_past_is_no_forecast() -> None:
    """A hand-read beer that creeps on for days after the time at which it was reckoned to be done."""
    judge = brewed(fermenting(), DAYS, read_at=(0.3, 60.0, 110.0, 160.0, 210.0))
    for hour in range(48, 24 * DAYS, 12):
        judgement = said(judge, float(hour))
        done_at = None if judgement.forecast is None else judgement.forecast.done_at
        assert done_at is None or done_at > judgement.at
