from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.contracts.feed import Feed, Freshness, Lane, ProbeView
from fermwatch.contracts.inbox import RequestKind
from fermwatch.contracts.store import Bucket, Latest, SourceState, SourceStatus, WatcherStatus, Writer
from fermwatch.model.amounts import plain, temperature
from fermwatch.model.finding import Alarm, Condition, Severity
from fermwatch.model.judgement import Judgement
from fermwatch.model.probe import Calibration
from fermwatch.model.reading import Flag
from fermwatch.plain_data import to_plain
from tests.support.samples import (
    NOW,
    PROBES,
    VESSELS,
    batch,
    beer_probe,
    event,
    measurement,
    opening,
    reading,
    request,
)
from tests.support.stores import open_feed


@pytest.fixture
def feed(writer: Writer, tmp_path: Path) -> Iterator[Feed]:
    opened = open_feed(tmp_path, "home")
    yield opened
    opened.close()


def beat(writer: Writer, now: datetime, wall: datetime | None = None) -> None:
    writer.beat(WatcherStatus("0.1", 1, NOW, now, wall or now))


def left(feed: Feed, wall_now: datetime = NOW) -> Lane:
    return feed.snapshot(wall_now).lanes[0]


def beer(feed: Feed, wall_now: datetime = NOW) -> ProbeView:
    return left(feed, wall_now).probes[0]


def test_a_picture_of_all_there_is(writer: Writer, feed: Feed) -> None:
    writer.apply(opening(batch()), NOW)
    writer.apply(request(RequestKind.MEASURE, {"batch": "BATCH1", "measurement": to_plain(measurement())}), NOW)
    writer.apply(request(RequestKind.EVENT, {"batch": "BATCH1", "event": to_plain(event())}), NOW)
    writer.save_judgement("BATCH1", Judgement(NOW))
    source = SourceStatus("board", "serial-line", SourceState.CONNECTED, "", NOW)
    writer.set_source(source)
    beat(writer, NOW)
    promised: Feed = feed
    picture = promised.snapshot(NOW)
    assert (picture.site, picture.timezone, picture.now, picture.sources) == ("home", "UTC", NOW, (source,))
    assert [lane.vessel for lane in picture.lanes] == list(VESSELS)
    first, second = picture.lanes
    assert (first.batch, first.measurements, first.events) == (batch(), (measurement(),), (event(),))
    assert first.judgement == Judgement(NOW)
    assert [view.probe for view in first.probes] == list(PROBES[:2])
    assert (second.batch, [view.probe for view in second.probes]) == (None, [PROBES[2]])


def test_a_probe_never_heard_has_no_value(feed: Feed) -> None:
    assert beer(feed) == ProbeView(PROBES[0], Freshness.NEVER)


def test_a_probe_is_live_until_it_has_been_silent_too_long(writer: Writer, feed: Feed) -> None:
    writer.append([reading(0, 19.25)])
    beat(writer, NOW + timedelta(seconds=300))
    assert beer(feed, NOW + timedelta(seconds=300)) == ProbeView(PROBES[0], Freshness.LIVE, 19.25, NOW, 300.0)
    beat(writer, NOW + timedelta(seconds=301))
    assert beer(feed, NOW + timedelta(seconds=301)).freshness is Freshness.STALE


def test_nothing_stays_fresh_when_the_watcher_has_died(writer: Writer, feed: Feed) -> None:
    writer.append([reading(0)])
    beat(writer, NOW)
    later = beer(feed, NOW + timedelta(hours=2))
    assert (later.freshness, later.age_s) == (Freshness.CUT_OFF, 7200.0)


@pytest.mark.parametrize("state", [SourceState.UNAVAILABLE, SourceState.REFUSED])
def test_a_probe_whose_source_is_lost_is_not_live_from_the_same_second(
    writer: Writer, feed: Feed, state: SourceState
) -> None:
    writer.append([reading(0)])
    beat(writer, NOW)
    assert beer(feed).freshness is Freshness.LIVE
    writer.set_source(SourceStatus("board", "serial-line", state, "unplugged", NOW))
    assert (beer(feed).freshness, beer(feed).age_s) == (Freshness.CUT_OFF, 0.0)
    writer.set_source(SourceStatus("another", "serial-line", state, "unplugged", NOW))
    writer.set_source(SourceStatus("board", "serial-line", SourceState.CONNECTED, "", NOW))
    assert beer(feed).freshness is Freshness.LIVE


def test_time_that_runs_fast_is_the_watchers_not_the_walls(writer: Writer, feed: Feed) -> None:
    wall = NOW + timedelta(days=200)
    writer.append([reading(60)])
    beat(writer, NOW + timedelta(hours=1), wall)
    assert feed.snapshot(wall).now == NOW + timedelta(hours=1)
    assert beer(feed, wall).freshness is Freshness.LIVE


def test_a_retained_value_is_last_known_however_new(writer: Writer, feed: Feed) -> None:
    writer.set_last_known([Latest(1, NOW, 18.0, last_known=True)])
    beat(writer, NOW)
    assert beer(feed).freshness is Freshness.LAST_KNOWN


def test_a_flagged_reading_says_why_it_is_not_to_be_believed(writer: Writer, feed: Feed) -> None:
    writer.append([reading(0, 85.0, flags=Flag.POWER_ON_CODE | Flag.CLOCK_UNSURE)])
    assert plain(beer(feed).flagged) == "85.0 °C means that the probe measured nothing, its clock is unsure"


def test_a_faulty_probe_has_the_value_of_its_last_good_reading(writer: Writer, feed: Feed) -> None:
    writer.append([reading(0, 18.5), reading(1, -127.0, flags=Flag.POWER_ON_CODE)])
    beat(writer, NOW + timedelta(minutes=2))
    fault = f"{temperature(-127.0)} means that the probe measured nothing"
    shown = beer(feed, NOW + timedelta(minutes=2))
    assert shown == ProbeView(PROBES[0], Freshness.FAULTY, 18.5, NOW, 120.0, fault)


def test_a_probe_that_only_ever_failed_has_no_value(writer: Writer, feed: Feed) -> None:
    writer.append([reading(0, 180.0, flags=Flag.IMPLAUSIBLE)])
    assert beer(feed) == ProbeView(PROBES[0], Freshness.FAULTY, flagged=f"{temperature(180.0)} cannot be")


@pytest.mark.parametrize("hours", [1, 30])
def test_the_last_good_reading_is_found_however_long_ago(writer: Writer, feed: Feed, hours: int) -> None:
    writer.append([reading(0, 18.5), reading(1, 19.0)])
    writer.append([reading(60 * hour + 20, 85.0, flags=Flag.POWER_ON_CODE) for hour in range(hours)])
    assert (beer(feed).value, beer(feed).at) == (19.0, NOW + timedelta(minutes=1))


def test_a_clock_that_is_unsure_spoils_no_value(writer: Writer, feed: Feed) -> None:
    writer.append([reading(-1, 18.0), reading(0, 19.0, flags=Flag.CLOCK_UNSURE)])
    beat(writer, NOW)
    assert (beer(feed).value, beer(feed).freshness) == (19.0, Freshness.LIVE)


def test_a_faulty_probe_that_fell_silent_is_stale(writer: Writer, feed: Feed) -> None:
    writer.append([reading(0, 85.0, flags=Flag.POWER_ON_CODE)])
    beat(writer, NOW + timedelta(hours=1))
    assert beer(feed, NOW + timedelta(hours=1)).freshness is Freshness.STALE


@pytest.mark.parametrize("flag", list(Flag))
def test_every_flag_has_words(writer: Writer, feed: Feed, flag: Flag) -> None:
    writer.append([reading(0, flags=flag)])
    assert beer(feed).flagged


def test_values_are_calibrated_as_they_were_when_read(writer: Writer, feed: Feed) -> None:
    writer.append([reading(0, 20.0), reading(20, 20.0)])
    calibration = Calibration(offset=1.0, factor=1.0)
    writer.declare("UTC", VESSELS, [beer_probe(calibration=calibration)], NOW + timedelta(minutes=30))
    beat(writer, NOW + timedelta(minutes=50))
    assert beer(feed, NOW + timedelta(minutes=50)).value == 20.0
    writer.append([reading(40, 20.0)])
    lane = left(feed, NOW + timedelta(minutes=50))
    assert lane.probes[0].value == 21.0
    assert [bucket.mean for bucket in lane.beer_curve] == [20.0, 20.0, 21.0]


def test_a_change_within_a_column_is_calibrated_on_either_side(writer: Writer, feed: Feed) -> None:
    writer.declare("UTC", VESSELS, [beer_probe(calibration=Calibration(10.0))], NOW + timedelta(minutes=5))
    writer.append([reading(1, 20.0), reading(6, 20.0), reading(7, 20.0)])
    beat(writer, NOW + timedelta(minutes=10))
    (bucket,) = left(feed, NOW + timedelta(minutes=10)).beer_curve
    assert bucket == replace(Bucket(NOW, 3, 20.0, 30.0, 0.0), mean=bucket.mean)
    assert bucket.mean == pytest.approx(80 / 3)


def test_readings_from_before_the_first_declaration_are_calibrated_too(writer: Writer, feed: Feed) -> None:
    writer.declare("UTC", VESSELS, [beer_probe("spare", calibration=Calibration(2.0))], NOW)
    writer.append([reading(-60, 18.0, series=4)])
    beat(writer, NOW)
    assert beer(feed).value == 20.0
    assert [bucket.mean for bucket in left(feed).beer_curve] == [20.0]


def test_history_stays_with_the_vessel_when_a_probe_moves(writer: Writer, feed: Feed) -> None:
    writer.append([reading(0, 20.0)])
    moved = [beer_probe(vessel="right"), *PROBES[1:]]
    writer.declare("UTC", VESSELS, moved, NOW + timedelta(hours=1))
    writer.append([reading(90, 12.0)])
    beat(writer, NOW + timedelta(hours=2))
    lanes = feed.snapshot(NOW + timedelta(hours=2)).lanes
    assert [[bucket.mean for bucket in lane.beer_curve] for lane in lanes] == [[20.0], [12.0]]
    assert [len(lane.probes) for lane in lanes] == [1, 2]


def test_a_negative_factor_turns_low_and_high_around(writer: Writer, feed: Feed) -> None:
    writer.declare("UTC", VESSELS, [beer_probe("upside-down", calibration=Calibration(0.0, -1.0))], NOW)
    writer.append([reading(0, -20.0, series=4), reading(1, -21.0, series=4)])
    beat(writer, NOW + timedelta(minutes=2))
    (bucket,) = left(feed, NOW + timedelta(minutes=2)).beer_curve
    assert (bucket.low, bucket.high, bucket.mean) == (20.0, 21.0, 20.5)


def test_a_curve_is_the_last_day_in_at_most_96_buckets(writer: Writer, feed: Feed) -> None:
    writer.append([reading(minute) for minute in range(-60 * 30, 1)])
    beat(writer, NOW + timedelta(seconds=20))
    curve = left(feed, NOW + timedelta(seconds=20)).beer_curve
    assert len(curve) == 96
    assert curve[0].at == NOW - timedelta(hours=23, minutes=45)
    assert sum(bucket.count for bucket in curve) == 24 * 60 - 15 + 1


def alarm(subject: str, **more: object) -> Alarm:
    return replace(Alarm("rule", subject, Condition.RAISED, raised_at=NOW, occurrence=1), **more)  # type: ignore[arg-type]


def test_alarms_stand_by_urgency_and_in_the_lane_they_are_about(writer: Writer, feed: Feed) -> None:
    writer.apply(opening(batch()), NOW)
    warning = alarm("vessel:left")
    critical = alarm("batch:BATCH1", severity=Severity.CRITICAL)
    newer = alarm("probe:left-beer", raised_at=NOW + timedelta(minutes=1))
    elsewhere = alarm("vessel:right", severity=Severity.ADVICE)
    over = alarm("vessel:left", condition=Condition.NORMAL, acknowledged_at=NOW)
    pending = Alarm("slow-start", "vessel:left", Condition.PENDING)
    writer.save_alarms([warning, elsewhere, newer, critical, replace(over, rule="over"), pending], [])
    picture = feed.snapshot(NOW)
    assert picture.alarms == (critical, warning, newer, elsewhere)
    assert picture.lanes[0].alarms == (critical, warning, newer)


@pytest.mark.parametrize("quiet", [{"shelved_until": NOW}, {"out_of_service": True}])
def test_an_alarm_kept_quiet_on_purpose_stays_in_sight(writer: Writer, feed: Feed, quiet: dict[str, object]) -> None:
    kept = alarm("vessel:left", condition=Condition.NORMAL, **quiet)
    writer.save_alarms([kept], [])
    assert feed.snapshot(NOW).alarms == (kept,)


def test_change_is_noticed(writer: Writer, feed: Feed) -> None:
    feed.changed()
    assert not feed.changed()
    beat(writer, NOW)
    assert feed.changed()
