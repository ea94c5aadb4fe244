"""What the feed answers beyond its snapshot, over a real store: frozen values, each saying what it answers."""

import itertools
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from fermwatch.contracts.feed import (
    BatchAnswer,
    BatchQuery,
    Curves,
    CurvesAnswer,
    CurvesQuery,
    Feed,
    HealthAnswer,
    HealthQuery,
    JournalAnswer,
    JournalQuery,
    OutcomesAnswer,
    OutcomesQuery,
)
from fermwatch.contracts.inbox import OutcomeState, RequestKind
from fermwatch.contracts.store import JournalEntry, WatcherStatus, Writer
from fermwatch.model.judgement import Judgement
from fermwatch.model.probe import Probe, Vessel
from fermwatch.model.quantity import CANONICAL_UNIT, Quantity
from fermwatch.model.telling import NotifierStatus
from fermwatch.model.window import Window, last_day
from fermwatch.plain_data import to_plain
from tests.support.samples import NOW, batch, event, measurement, opening, reading, request
from tests.support.stores import open_feed

MINUTES = 60 * 24 * 6


@pytest.fixture
def feed(writer: Writer, tmp_path: Path) -> Iterator[Feed]:
    opened = open_feed(tmp_path, "home")
    yield opened
    opened.close()


def filled(writer: Writer) -> None:
    """Six days of beer, half a degree up every day, a reading every five minutes."""
    writer.append([reading(minute, 18 + minute / 2880) for minute in range(0, MINUTES, 5)])


def curves(feed: Feed, window: Window, **more: object) -> Curves:
    query = CurvesQuery("left", window, **more)  # type: ignore[arg-type]
    answer = feed.answer(query, NOW)
    assert isinstance(answer, CurvesAnswer)
    assert answer.query == query
    assert answer.curves.window == window
    return answer.curves


@pytest.mark.parametrize("hours", [1, 6, 24, 72, 144])
@pytest.mark.parametrize("columns", [12, 96, 200])
def test_history_at_any_zoom_is_what_was_read_then(writer: Writer, feed: Feed, hours: float, columns: int) -> None:
    filled(writer)
    start = NOW + timedelta(days=6) - timedelta(hours=hours)
    window = Window(start, start + timedelta(hours=hours), columns)
    beer = curves(feed, window).beer
    assert 1 <= len(beer) <= columns
    assert sum(bucket.count for bucket in beer) == hours * 12
    assert [bucket.at for bucket in beer] == sorted(bucket.at for bucket in beer)
    assert len({window.column(bucket.at, columns) for bucket in beer}) == len(beer)
    for before, after in itertools.pairwise(beer):
        assert before.low <= before.mean <= before.high < after.high


def test_nothing_of_before_the_pitch_is_told_where_that_is_asked(writer: Writer, feed: Feed) -> None:
    filled(writer)
    since = NOW + timedelta(days=2, minutes=1)
    beer = curves(feed, Window(NOW, NOW + timedelta(days=6), 144), since=since).beer
    assert beer[0].at == NOW + timedelta(days=2)
    assert sum(bucket.count for bucket in beer) == 4 * 288


def test_what_a_controller_was_set_to_and_what_it_switched_stand_beside_the_beer(writer: Writer, feed: Feed) -> None:
    kinds = (("set", "set-point", "set-point"), ("cold", "output", "cool"), ("warm", "output", "heat"))
    probes = [
        Probe(name, "left", Quantity(quantity), "fridge", channel, CANONICAL_UNIT[Quantity(quantity)])
        for name, quantity, channel in kinds
    ]
    series = writer.declare("UTC", [Vessel("left", "Left", 20.0)], probes, NOW)
    values = {"set": 18.0, "cold": 1.0, "warm": 0.0}
    writer.append(
        [replace(reading(minute, values[name]), series=series[name]) for name in values for minute in range(0, 120, 5)]
    )
    found = curves(feed, Window(NOW, NOW + timedelta(hours=2), 8))
    assert [{one.mean for one in curve} for curve in (found.set_point, found.cool, found.heat)] == [
        {18.0},
        {1.0},
        {0.0},
    ]


def test_a_lane_shows_what_is_answered_for_its_day(writer: Writer, feed: Feed) -> None:
    filled(writer)
    now = NOW + timedelta(days=3)
    writer.beat(WatcherStatus("0.1", 1, NOW, now, now))
    lane = feed.snapshot(now).lanes[0]
    assert curves(feed, last_day(now)) == lane.last_day(now)


def test_a_batch_with_all_that_is_kept_of_it(writer: Writer, feed: Feed) -> None:
    writer.apply(opening(batch()), NOW)
    writer.apply(request(RequestKind.MEASURE, {"batch": "BATCH1", "measurement": to_plain(measurement())}), NOW)
    writer.apply(request(RequestKind.EVENT, {"batch": "BATCH1", "event": to_plain(event())}), NOW)
    writer.save_judgement("BATCH1", Judgement(NOW))
    query = BatchQuery("BATCH1")
    answer = feed.answer(query, NOW)
    assert isinstance(answer, BatchAnswer)
    assert answer.batch is not None
    assert answer.batch.id == "BATCH1"
    assert [len(answer.measurements), len(answer.events)] == [1, 1]
    assert answer.judgement == Judgement(NOW)
    assert feed.answer(BatchQuery("none"), NOW) == BatchAnswer(BatchQuery("none"), None)


def test_the_journal_newest_first(writer: Writer, feed: Feed) -> None:
    entries = [JournalEntry(NOW + timedelta(minutes=n), "alarm", f"vessel:{n % 2}", f"entry {n}") for n in range(5)]
    writer.enter(entries)
    query = JournalQuery(2, kind="alarm", subject="vessel:0")
    answer = feed.answer(query, NOW)
    assert isinstance(answer, JournalAnswer)
    assert answer.query == query
    assert [entry.text for entry in answer.entries] == ["entry 4", "entry 2"]


def test_outcomes_of_what_was_asked_and_whether_anybody_may_give_the_rest(writer: Writer, feed: Feed) -> None:
    asked = opening(batch())
    query = OutcomesQuery((asked.key, "NEVER"))
    writer.beat(WatcherStatus("0.1", 1, NOW, NOW, NOW))
    before = feed.answer(query, NOW)
    assert before == OutcomesAnswer(query, (), watched=True)
    writer.apply(asked, NOW)
    answer = feed.answer(query, NOW)
    assert isinstance(answer, OutcomesAnswer)
    assert [(one.request_key, one.state) for one in answer.outcomes] == [(asked.key, OutcomeState.DONE)]


def test_a_watcher_that_is_busy_is_known_by_its_lease(writer: Writer, feed: Feed, tmp_path: Path) -> None:
    """Its signs of life are late; it holds the site none the less, until it ends."""
    query = OutcomesQuery(("WAITS",))
    late = NOW + timedelta(hours=1)
    assert feed.answer(query, late) == OutcomesAnswer(query, (), watched=True)
    writer.close()
    assert feed.answer(query, late) == OutcomesAnswer(query, (), watched=False)


def test_how_the_store_and_the_ways_to_people_do(writer: Writer, feed: Feed) -> None:
    phone = NotifierStatus("phone", "command", NOW)
    writer.set_notifier(phone)
    answer = feed.answer(HealthQuery(), NOW)
    assert isinstance(answer, HealthAnswer)
    assert answer.notifiers == (phone,)
    assert feed.snapshot(NOW).notifiers == ("phone",)
    assert answer.room.size_bytes > 10_000
