"""The headline is the worst truth, and "all well" stands beside none."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from fermwatch.contracts.feed import Freshness, Snapshot
from fermwatch.contracts.kept import Misread
from fermwatch.contracts.store import SourceState
from fermwatch.model.batch import Event, EventKind, GravityMeasurement
from fermwatch.model.finding import Alarm, Condition, Severity
from fermwatch.model.intent import course_of
from fermwatch.saying.facts import lane_facts
from fermwatch.saying.headline import Urgency, headline, truths
from fermwatch.saying.voice import Voice, zone_of
from tests.dashboard.snapshots import NOW, ZONE, healthy, hot, snapshot, source, stalled, watcher

VOICE = Voice(zone=zone_of(ZONE))
DEAD = replace(watcher(), beat_at=NOW - timedelta(minutes=5))
REFUSED = replace(watcher(), refused_configuration="no such key")
ODD_ROW = Misread("alarm", "a b", "it is odd")
FULL = replace(watcher(), trouble="the disk is full: free some space")


def probes(**changes: Mapping[str, Any]) -> Snapshot:
    """A well fermenter with some of its probes changed, by quantity."""
    lane = healthy()
    changed = [replace(view, **changes.get(view.probe.quantity.name, {})) for view in lane.probes]
    return snapshot(replace(lane, probes=tuple(changed)))


def source_in(state: SourceState) -> Snapshot:
    return replace(snapshot(healthy()), sources=(replace(source(), state=state, since=NOW),))


FAULTY = {"freshness": Freshness.FAULTY, "flagged": "-127.0 °C means that the probe measured nothing"}
WEEK = {"freshness": Freshness.STALE, "age_s": 7 * 86400.0}


@pytest.mark.parametrize(
    ("shown", "text"),
    [
        (replace(snapshot(healthy()), watcher=None), "nobody has watched yet"),
        (replace(snapshot(hot()), watcher=DEAD, lease_held=False), "nobody is watching"),
        (replace(snapshot(hot()), watcher=DEAD), "the watcher runs, and has written nothing for 5 min"),
        (replace(snapshot(hot()), watcher=FULL), "the store is in trouble: the disk is full: free some space"),
        (replace(snapshot(healthy()), watcher=FULL), "the store is in trouble: the disk is full: free some space"),
        (source_in(SourceState.UNAVAILABLE), "board is away since 21:14"),
        (source_in(SourceState.REFUSED), "board is away since 21:14"),
        (source_in(SourceState.STARTING), "board is not connected yet"),
        (probes(BEER_TEMPERATURE=FAULTY), "Left: beer faulty"),
        (probes(BEER_TEMPERATURE=FAULTY, AIR_TEMPERATURE=FAULTY), "Left: 2 probes faulty"),
        (probes(GRAVITY=WEEK), "Left: gravity silent for 7 days"),
        (probes(GRAVITY=WEEK, BEER_TEMPERATURE=FAULTY), "Left: 2 probes silent or faulty"),
        (probes(GRAVITY={"freshness": Freshness.NEVER, "value": None}), "Left: gravity not heard yet"),
        (replace(snapshot(healthy()), lanes=()), "no fermenter yet"),
        (replace(snapshot(healthy()), misread=(ODD_ROW,)), "1 row of the store cannot be read"),
        (replace(snapshot(healthy()), watcher=REFUSED), "the new configuration was refused: no such key"),
        (replace(snapshot(healthy()), watcher=replace(watcher(), last_commit_at=None)), "nothing heard yet"),
        (snapshot(healthy()), "all well"),
    ],
)
def test_the_worst_truth_is_the_headline(shown: Snapshot, text: str) -> None:
    assert headline(shown, VOICE).text == text


def one_alarm(severity: Severity = Severity.WARNING, **changes: Any) -> Snapshot:  # noqa: ANN401
    alarm = Alarm("cycling", "vessel:left", Condition.RAISED, severity, raised_at=NOW, occurrence=1, statement="so")
    return snapshot(replace(healthy(), alarms=(replace(alarm, **changes),)))


@pytest.mark.parametrize(
    ("shown", "matter"),
    [
        (one_alarm(Severity.CRITICAL), "alarms-critical"),
        (one_alarm(Severity.WARNING), "alarms-warning"),
        (one_alarm(Severity.ADVICE), "alarms-advice"),
        (one_alarm(acknowledged_at=NOW), "alarms-seen"),
        (one_alarm(Severity.ADVICE, acknowledged_at=NOW), "alarms-seen"),
        (one_alarm(condition=Condition.NORMAL, cleared_at=NOW), "alarms-over"),
        (one_alarm(shelved_until=NOW + timedelta(hours=1)), "quiet"),
        (one_alarm(out_of_service=True), "quiet"),
    ],
)
def test_an_alarm_that_is_all_that_is_wrong_is_the_headline(shown: Snapshot, matter: str) -> None:
    assert headline(shown, VOICE).matter == matter


def test_the_order_of_what_is_wrong() -> None:
    shown = replace(
        snapshot(hot(), stalled(), *probes(GRAVITY=WEEK, BEER_TEMPERATURE={"value": 25.0}).lanes),
        watcher=replace(DEAD, trouble="the disk is full"),
        lease_held=False,
        sources=(replace(source(), state=SourceState.UNAVAILABLE),),
        misread=(ODD_ROW,),
    )
    assert [truth.matter for truth in truths(shown, VOICE)] == [
        *("watcher", "store", "alarms-critical", "misread", "sources", "probes", "range", "unheard")
    ]


def test_an_alarm_of_the_site_alone_is_told_in_its_own_words() -> None:
    alarm = Alarm("inbox", "site:home", Condition.RAISED, Severity.WARNING, raised_at=NOW, occurrence=1)
    shown = replace(snapshot(healthy()), alarms=(replace(alarm, statement="the inbox cannot be read"),))
    assert headline(shown, VOICE).text == "the inbox cannot be read"
    assert headline(shown, VOICE).level is Urgency.WARNING


def test_a_fermenter_and_the_site_that_need_somebody_are_both_named() -> None:
    here = one_alarm()
    of_site = Alarm("inbox", "site:home", Condition.RAISED, Severity.WARNING, raised_at=NOW, occurrence=1)
    assert headline(here, VOICE).text == "Left needs you"
    both = replace(here, alarms=(*here.alarms, of_site))
    assert headline(both, VOICE).text == "Left and the site need you"


def test_two_that_need_somebody_are_counted_where_their_names_are_too_long() -> None:
    one = one_alarm()
    lane = one.lanes[0]
    both = replace(one, lanes=(lane, replace(lane, vessel=replace(lane.vessel, slug="right", name="Right"))))
    claim = headline(both, VOICE)
    assert claim.said.text == "Left and Right need you"
    assert claim.said_briefly.text == "2 of 2 need you"
    assert headline(one, VOICE).said_briefly.text == "Left needs you"


def test_a_reading_that_was_taken_back_is_none() -> None:
    taken = GravityMeasurement("m", NOW, 1.020)
    by_hand = replace(healthy(), probes=(), measurements=(taken,))
    assert headline(snapshot(by_hand), VOICE).level is Urgency.WELL
    voided = replace(by_hand, measurements=(replace(taken, voided=True),))
    assert headline(snapshot(voided), VOICE).text == "Left: nothing measured yet"


def test_of_an_empty_fermenter_a_silent_probe_is_nothing_and_a_faulty_one_is_told() -> None:
    def empty(odd: Mapping[str, Any]) -> Snapshot:
        return snapshot(replace(probes(BEER_TEMPERATURE=odd).lanes[0], batch=None, judgement=None))

    assert headline(empty(WEEK), VOICE).level is Urgency.WELL
    assert headline(empty(FAULTY), VOICE).text == "Left: beer faulty"


def test_a_silent_probe_that_somebody_keeps_quiet_is_quiet_and_not_well() -> None:
    shown = probes(GRAVITY=WEEK)
    slug = shown.lanes[0].probes[3].probe.slug
    alarm = Alarm("probe-silent", f"probe:{slug}", Condition.RAISED, occurrence=1, out_of_service=True)
    lane = replace(shown.lanes[0], alarms=(alarm,))
    assert headline(snapshot(lane), VOICE).text == "quiet: 1 alarm out of service"


def test_a_probe_that_nobody_hears_is_not_live() -> None:
    cut_off = {"freshness": Freshness.CUT_OFF}
    shown = probes(BEER_TEMPERATURE=cut_off, AIR_TEMPERATURE=cut_off, SET_POINT=cut_off, GRAVITY=cut_off)
    facts = lane_facts(shown.lanes[0], NOW, VOICE)
    assert facts.probes == "all 4 probes cut off, heard 12 s ago"
    assert facts.beer.remark == "cut off, heard 12 s ago"


def test_a_beer_on_its_way_to_a_planned_rest_is_not_outside_of_it() -> None:
    """Its rule is silent then, and so is the headline; of any other quiet alarm the range is still told."""
    rest = Event("r", NOW - timedelta(hours=60), EventKind.REST, {"target_c": 25.0})
    for why, told in (("on its way to the planned rest", "well"), ("planned rest", "range")):
        low = Alarm("temperature-low", "vessel:middle", Condition.RAISED, raised_at=NOW, suppressed_by=why)
        lane = replace(healthy(), course=course_of([rest], NOW), alarms=(low,))
        assert headline(replace(snapshot(lane), alarms=(low,)), VOICE).matter == told
