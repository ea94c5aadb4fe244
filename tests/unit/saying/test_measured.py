"""Of gravity is shown what was last measured, with its true age; an estimate only as one."""

from dataclasses import replace
from datetime import timedelta

import pytest

from fermwatch.contracts.feed import Freshness, Lane
from fermwatch.model.batch import GravityMeasurement, Instrument
from fermwatch.model.judgement import Trend
from fermwatch.model.quantity import Quantity
from fermwatch.report.status import status_text
from fermwatch.saying.facts import lane_facts
from fermwatch.saying.voice import Units, Voice, zone_of
from tests.dashboard.snapshots import NOW, ZONE, healthy, snapshot

VOICE = Voice(zone=zone_of(ZONE))


def by_hand(gravity_sg: float, **ago: float) -> GravityMeasurement:
    return GravityMeasurement("M1", NOW - timedelta(**ago), gravity_sg)


def by_hand_alone(*taken: GravityMeasurement, **change: object) -> Lane:
    """No gravity probe; judged by the first of the readings."""
    lane = healthy()
    assert lane.judgement is not None
    assert lane.judgement.trend is not None
    trend = replace(
        lane.judgement.trend, measured_sg=taken[0].gravity_sg, measured_at=taken[0].at, measured_by="hydrometer"
    )
    judgement = replace(lane.judgement, trend=replace(trend, **change))  # type: ignore[arg-type]
    return replace(lane, probes=lane.probes[:3], measurements=taken, judgement=judgement, gravity_curve=())


def test_an_old_reading_is_shown_as_such_and_the_estimate_as_one() -> None:
    """OG 1.057 and one reading on day 2 became "Gravity 0.990, by hand" twelve days later."""
    lane = by_hand_alone(by_hand(1.0327, days=12), estimated=True, gravity_sg=1.0112, rate_points_per_day=-6.8)
    facts = lane_facts(lane, NOW, VOICE)
    assert (facts.gravity.value, facts.gravity.remark, facts.gravity.old) == (1.0327, "by hydrometer 12 days ago", True)
    assert facts.rate == ""
    told = status_text(snapshot(lane), 200)
    assert "Gravity 1.033, by hydrometer 12 days ago" in told
    assert "estimated to be about 1.011 now" in told


def test_a_reading_of_a_minute_ago_is_a_minute_old_though_it_was_judged_by_the_three_hours() -> None:
    taken = by_hand(1.012, seconds=62)
    facts = lane_facts(by_hand_alone(taken, measured_at=NOW - timedelta(hours=3)), NOW, VOICE)
    assert facts.gravity.remark == "by hydrometer 62 s ago"


def test_a_newer_reading_is_shown_before_it_is_judged() -> None:
    lane = by_hand_alone(by_hand(1.020, days=5), by_hand(1.012, minutes=3), estimated=True)
    assert lane_facts(lane, NOW, VOICE).gravity.value == 1.012
    assert not lane_facts(lane, NOW, VOICE).gravity.old


def test_a_gassy_reading_is_shown_only_where_there_is_no_other() -> None:
    gassy = replace(by_hand(1.033, minutes=3), degassed=False)
    lane = replace(by_hand_alone(gassy), judgement=None)
    assert lane_facts(lane, NOW, VOICE).gravity.remark == "by hydrometer 3 min ago, not degassed"
    both = by_hand_alone(by_hand(1.030, days=1), gassy)
    assert lane_facts(both, NOW, VOICE).gravity.value == 1.030
    refracted = replace(gassy, instrument=Instrument.REFRACTOMETER)
    assert (
        lane_facts(replace(lane, measurements=(refracted,)), NOW, VOICE).gravity.remark == "by refractometer 3 min ago"
    )


def test_a_probe_that_fell_silent_keeps_what_it_last_said() -> None:
    lane = healthy()
    assert lane.judgement is not None
    trend = Trend(NOW, 1.010, 2.0, -4.0, 2.0, 0.5, measured_sg=1.024, measured_at=NOW - timedelta(days=3))
    trend = replace(trend, measured_by="probe", estimated=True)
    silent = replace(lane.probes[3], freshness=Freshness.STALE, age_s=3 * 86400.0)
    lane = replace(lane, probes=(*lane.probes[:3], silent), judgement=replace(lane.judgement, trend=trend))
    facts = lane_facts(lane, NOW, VOICE)
    assert (facts.gravity.value, facts.gravity.remark, facts.gravity.old) == (1.024, "by probe 3 days ago", True)


def test_a_probe_far_from_the_hydrometer_gets_its_sentence() -> None:
    lane = healthy()
    assert lane.judgement is not None
    assert lane.judgement.trend is not None
    trend = replace(
        lane.judgement.trend, remark="the probe reads 10 points lower than the hydrometer says", gravity_sg=1.034
    )
    told = status_text(snapshot(replace(lane, judgement=replace(lane.judgement, trend=trend))), 300)
    assert "Gravity 1.024 by the probe; " in told
    assert "; estimated to be about 1.034 now, the probe reads 10 points lower than the hydrometer says; appar" in told
    assert "% at 1.034." in told


@pytest.mark.parametrize("reads", [1.0052, 1.0081, 1.0103, 1.024])
def test_on_no_screen_it_ends_above_the_gravity_that_is_shown_beside(reads: float) -> None:
    """A probe goes on between two judgements, and its noise with it."""
    lane = healthy()
    probes = tuple(
        replace(view, value=reads) if view.probe.quantity is Quantity.GRAVITY else view for view in lane.probes
    )
    facts = lane_facts(replace(lane, probes=probes), NOW, VOICE)
    assert facts.ending is not None
    assert facts.gravity.value == reads
    assert facts.ending.low_sg <= (facts.ending.most_sg or 0.0) <= facts.ending.high_sg <= reads


def test_of_a_probe_that_reads_too_low_the_forecast_is_the_beers() -> None:
    lane = healthy()
    assert lane.judgement is not None
    assert lane.judgement.trend is not None
    assert lane.judgement.forecast is not None
    probes = tuple(
        replace(view, value=1.001) if view.probe.quantity is Quantity.GRAVITY else view for view in lane.probes
    )
    known = replace(lane.judgement.trend, remark="the probe reads 10 points lower than the hydrometer says")
    facts = lane_facts(replace(lane, probes=probes, judgement=replace(lane.judgement, trend=known)), NOW, VOICE)
    assert facts.ending is not None
    assert facts.ending.high_sg == lane.judgement.forecast.high_sg


def test_plato_is_said_in_the_status() -> None:
    told = status_text(snapshot(healthy()), 200, units=Units(plato=True))
    assert "Gravity 6.2 °P; from 12.9 °P toward 2.6–3.8 °P by its forecast" in told
    assert "1.0" not in told


def test_what_a_stalled_beers_yeast_should_do_is_no_forecast_of_what_it_will() -> None:
    lane = healthy()
    assert lane.judgement is not None
    assert lane.judgement.forecast is not None
    told = status_text(snapshot(lane), 200)
    assert "by its forecast" in told
    judgement = replace(lane.judgement, forecast=replace(lane.judgement.forecast, basis="yeast"))
    assert "by its yeast" in status_text(snapshot(replace(lane, judgement=judgement)), 200)
