"""The thread that reads the store: what is wanted is read at once, of a kind the newest alone, never on the loop."""

import asyncio
import threading
from datetime import datetime, timedelta
from pathlib import Path
from queue import Queue
from typing import Self

import pytest
from blockbuster import BlockingError

from fermwatch.clock import ManualClock
from fermwatch.contracts.feed import Answer, CurvesQuery, Feed, JournalQuery, Query
from fermwatch.dashboard import channel
from fermwatch.dashboard.channel import Channel
from fermwatch.dashboard.events import Answered, Happening, ReadingFailed, SnapshotRead
from fermwatch.model.window import last_day
from tests.dashboard.feeds import StillFeed
from tests.dashboard.snapshots import NOW, healthy, snapshot
from tests.support.stores import open_feed, open_writer

GUARD_S = 10.0


def curves(day: int) -> CurvesQuery:
    return CurvesQuery("left", last_day(NOW + timedelta(days=day)))


class SlowFeed(StillFeed):
    """Answers when it is let to."""

    def __init__(self) -> None:
        super().__init__(snapshot(healthy()))
        self.asked, self.let = threading.Event(), threading.Event()

    def answer(self, query: Query, wall_now: datetime) -> Answer:
        self.asked.set()
        assert self.let.wait(GUARD_S)
        return super().answer(query, wall_now)


class Listening:
    def __init__(self, feed: StillFeed) -> None:
        self.told: Queue[Happening] = Queue()
        self.channel = Channel(lambda: feed, ManualClock(NOW), self.told.put)

    def __enter__(self) -> Self:
        self.channel.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.channel.stop()

    def next(self) -> Happening:
        return self.told.get(timeout=GUARD_S)

    def next_query(self) -> Query:
        event = self.next()
        assert isinstance(event, Answered), event
        return event.answer.query


def test_the_newest_request_of_a_kind_wins() -> None:
    feed = SlowFeed()
    with Listening(feed) as heard:
        assert isinstance(heard.next(), SnapshotRead)
        heard.channel.want([curves(1)])
        assert feed.asked.wait(GUARD_S)
        for day in (2, 3, 4):  # a person who zooms quicker than a disk reads
            heard.channel.want([curves(day), JournalQuery()])
        feed.let.set()
        told = [heard.next_query() for _ in range(3)]
    assert told[0] == curves(1)
    assert set(told[1:]) == {curves(4), JournalQuery()}
    assert feed.queries == told


def test_what_is_wanted_is_read_at_once_and_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(channel, "POLL_S", 60.0)
    feed = StillFeed(snapshot(healthy()))
    with Listening(feed) as heard:
        assert isinstance(heard.next(), SnapshotRead)
        for query in (JournalQuery(5), JournalQuery(5), JournalQuery(7)):
            heard.channel.want([query])
            if feed.queries[-1:] != [query]:
                assert heard.next_query() == query
    assert feed.queries == [JournalQuery(5), JournalQuery(7)]


def test_it_is_read_again_when_the_store_has_changed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(channel, "POLL_S", 0.02)
    feed = StillFeed(snapshot(healthy()))
    with Listening(feed) as heard:
        assert isinstance(heard.next(), SnapshotRead)
        heard.channel.want([JournalQuery()])
        assert heard.next_query() == JournalQuery()
        feed.shown = snapshot()
        assert isinstance(heard.next(), SnapshotRead)
        assert heard.next_query() == JournalQuery()


def test_an_answer_that_fails_is_told_and_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(channel, "RETRY_S", 0.02)
    feed = StillFeed(snapshot(healthy()))
    answer, failures = feed.answer, [RuntimeError("unforeseen")]

    def once(query: Query, wall_now: datetime) -> Answer:
        if failures:
            raise failures.pop()
        return answer(query, wall_now)

    monkeypatch.setattr(feed, "answer", once)
    with Listening(feed) as heard:
        assert isinstance(heard.next(), SnapshotRead)
        heard.channel.want([JournalQuery()])
        told = heard.next()
        assert isinstance(told, ReadingFailed)
        assert "unforeseen" in told.message
        assert isinstance(heard.next(), SnapshotRead)
        assert heard.next_query() == JournalQuery()


def test_a_disk_that_hangs_holds_up_neither_asking_nor_leaving() -> None:
    feed = SlowFeed()
    with Listening(feed) as heard:
        assert isinstance(heard.next(), SnapshotRead)
        heard.channel.want([curves(1)])
        assert feed.asked.wait(GUARD_S)
        heard.channel.want([curves(2)])
        heard.channel.stop()
        assert heard.told.empty()
    feed.let.set()


async def test_a_database_call_on_the_loop_is_caught(tmp_path: Path) -> None:
    """By the watch that every test of the dashboard runs under: so none of them asks a store on the loop."""
    with pytest.raises(BlockingError):
        open_writer(tmp_path, "home", NOW, ballast_bytes=4096)
    feed = await asyncio.to_thread(_feed_of_a_new_store, tmp_path)
    with pytest.raises(BlockingError):
        feed.changed()


def _feed_of_a_new_store(directory: Path) -> Feed:
    open_writer(directory, "home", NOW, ballast_bytes=4096).close()
    return open_feed(directory, "home")
